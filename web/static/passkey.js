// Passkeys take a script: the browser makes and asks them by navigator.credentials (W3C Web Authentication). Forms that
// need one are hidden without. A form's hidden field carries what the passkey answered; the form itself is then sent.
(function () {
  "use strict";
  if (!window.PublicKeyCredential || !navigator.credentials || !window.fetch) return;

  function bytes(text) {
    var plain = atob(text.replace(/-/g, "+").replace(/_/g, "/"));
    return Uint8Array.from(plain, function (c) { return c.charCodeAt(0); });
  }

  function text(buffer) {
    var plain = String.fromCharCode.apply(null, new Uint8Array(buffer));
    return btoa(plain).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
  }

  function keys(list) {
    return (list || []).map(function (k) { return Object.assign({}, k, { id: bytes(k.id) }); });
  }

  function options(form, path) {
    var body = new URLSearchParams({ csrf: form.elements.csrf.value });
    return fetch(path, { method: "POST", body: body, credentials: "same-origin", redirect: "error" }).then(function (r) {
      if (!r.ok) throw new Error("status " + r.status);
      return r.json();
    }).then(function (o) { return o.publicKey; });
  }

  function answer(c, response) {
    return JSON.stringify({
      id: c.id, rawId: text(c.rawId), type: c.type, response: response,
      authenticatorAttachment: c.authenticatorAttachment || undefined,
      clientExtensionResults: c.getClientExtensionResults()
    });
  }

  function ask(form) {
    return options(form, form.dataset.passkey).then(function (o) {
      o.challenge = bytes(o.challenge);
      o.allowCredentials = keys(o.allowCredentials);
      return navigator.credentials.get({ publicKey: o });
    }).then(function (c) {
      form.elements.proof_passkey.value = answer(c, {
        clientDataJSON: text(c.response.clientDataJSON), authenticatorData: text(c.response.authenticatorData),
        signature: text(c.response.signature), userHandle: c.response.userHandle ? text(c.response.userHandle) : undefined
      });
    });
  }

  function make(form) {
    return options(form, form.dataset.newPasskey).then(function (o) {
      o.challenge = bytes(o.challenge);
      o.user.id = bytes(o.user.id);
      o.excludeCredentials = keys(o.excludeCredentials);
      return navigator.credentials.create({ publicKey: o });
    }).then(function (c) {
      form.elements.made.value = answer(c, {
        clientDataJSON: text(c.response.clientDataJSON), attestationObject: text(c.response.attestationObject),
        transports: c.response.getTransports ? c.response.getTransports() : []
      });
    });
  }

  function attach(form, work) {
    var said = form.querySelector("[role=alert]");
    var button = form.querySelector("button");
    form.hidden = false;
    form.addEventListener("submit", function (e) {
      e.preventDefault();
      said.hidden = true;
      button.disabled = true;
      work(form).then(function () { form.submit(); }, function (err) {
        button.disabled = false;
        said.hidden = false;
        said.textContent = err.name === "InvalidStateError" ? said.dataset.had : said.dataset.none;
      });
    });
  }

  document.querySelectorAll("form[data-passkey]").forEach(function (f) { attach(f, ask); });
  document.querySelectorAll("form[data-new-passkey]").forEach(function (f) { attach(f, make); });
  document.querySelectorAll("[data-without-passkeys]").forEach(function (e) { e.hidden = true; });
})();
