// The form for sending sheets works without this file. With it, files can be dropped on the form and the way there is
// shown; leaving the page or pressing Stop ends the sending, and nothing is kept of half a file.
(function () {
  "use strict";
  var form = document.getElementById("send");
  if (!form || !window.FormData || !window.XMLHttpRequest) return;

  var most = 20 * 1024 * 1024;
  var said = form.dataset; // the sentences, in the reader's language
  var drop = document.getElementById("drop");
  var input = document.getElementById("file");
  var chosen = document.getElementById("chosen");
  var problem = document.getElementById("problem");
  var progress = document.getElementById("progress");
  var bar = document.getElementById("bar");
  var text = document.getElementById("progress-text");
  var send = form.querySelector("button[type=submit]");

  function tell(sentence) {
    problem.textContent = "";
    if (!sentence) return;
    var p = document.createElement("p");
    p.className = "notice stop";
    p.textContent = sentence;
    problem.appendChild(p);
    problem.scrollIntoView({ block: "nearest" });
  }

  function size() {
    return Array.prototype.reduce.call(input.files, function (sum, f) { return sum + f.size; }, 0);
  }

  function list() {
    chosen.textContent = "";
    Array.prototype.forEach.call(input.files, function (f) {
      var li = document.createElement("li");
      li.textContent = f.name;
      chosen.appendChild(li);
    });
    tell(size() > most ? said.large : "");
  }

  input.addEventListener("change", list);
  ["dragenter", "dragover"].forEach(function (name) {
    drop.addEventListener(name, function (e) { e.preventDefault(); drop.classList.add("over"); });
  });
  ["dragleave", "drop"].forEach(function (name) {
    drop.addEventListener(name, function () { drop.classList.remove("over"); });
  });
  drop.addEventListener("drop", function (e) {
    e.preventDefault();
    if (!e.dataTransfer || !e.dataTransfer.files.length) return;
    input.files = e.dataTransfer.files;
    list();
  });

  form.addEventListener("submit", function (e) {
    if (size() > most) { e.preventDefault(); list(); return; }
    e.preventDefault();
    tell("");
    var request = new XMLHttpRequest();

    function done() {
      progress.hidden = true;
      send.disabled = false;
    }
    request.upload.addEventListener("progress", function (p) {
      if (!p.lengthComputable) return;
      var percent = Math.round(100 * p.loaded / p.total);
      bar.value = percent;
      text.textContent = percent < 100 ? said.underWay.replace("%d", percent) : said.here;
    });
    request.addEventListener("load", function () {
      done();
      if (request.status < 400) { window.location.assign(request.responseURL); return; }
      var page = new DOMParser().parseFromString(request.responseText, "text/html");
      var why = page.querySelector("#problem") || page.querySelector("main p");
      tell(why && why.textContent.trim() || said.failed);
    });
    request.addEventListener("error", function () {
      done();
      tell(said.broken);
    });
    request.addEventListener("abort", function () {
      done();
      tell(said.stopped);
    });
    document.getElementById("stop").onclick = function () { request.abort(); };

    request.open("POST", form.action);
    request.send(new FormData(form));
    bar.value = 0;
    text.textContent = "";
    progress.hidden = false;
    send.disabled = true;
  });
})();
