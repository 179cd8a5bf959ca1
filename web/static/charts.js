// Draws the charts of a page: each box with data-options names a script element that holds the options as JSON.
// Functions cannot travel in JSON, so the options name those below.
(function () {
  "use strict";

  // softRange draws a range as a stripe with soft ends: what could be true is not a wall.
  function softRange(params, api) {
    var low = api.coord([api.value(0), api.value(1)]);
    var high = api.coord([api.value(0), api.value(2)]);
    var width = 13, fade = 5;
    var top = high[1], height = low[1] - high[1];
    var stripe = function (y, h, opacity) {
      return { type: "rect", silent: false, shape: { x: low[0] - width / 2, y: y, width: width, height: Math.max(h, 2), r: width / 2 },
        style: { fill: api.visual("color"), opacity: opacity } };
    };
    return { type: "group", children: [stripe(top - fade, height + 2 * fade, 0.14), stripe(top + fade, height - 2 * fade, 0.24)] };
  }
  // band joins place, low, high, and again, to one soft shape.
  function band(params, api) {
    var low = [], high = [];
    for (var i = 0; isFinite(api.value(i)) && api.value(i) !== null; i += 3) {
      low.push(api.coord([api.value(i), api.value(i + 1)]));
      high.push(api.coord([api.value(i), api.value(i + 2)]));
    }
    return { type: "polygon", silent: true, shape: { points: high.concat(low.reverse()) }, style: { fill: api.visual("color"), opacity: 0.13 } };
  }
  var renderers = { softRange: softRange, band: band };
  var formatters = { year: function (value) { return String(Math.round(value)); } };

  function draw(box) {
    var source = document.getElementById(box.dataset.options);
    if (!source) return;
    var options = JSON.parse(source.textContent);
    (options.series || []).forEach(function (s) {
      if (typeof s.renderItem === "string") s.renderItem = renderers[s.renderItem];
    });
    [].concat(options.xAxis || [], options.yAxis || []).forEach(function (axis) {
      var format = axis.axisLabel && formatters[axis.axisLabel.formatter];
      if (format) axis.axisLabel.formatter = format;
    });
    // Rich text keeps the tooltip inside the drawing: as HTML it would need inline styles.
    options.tooltip = Object.assign({}, options.tooltip, {
      renderMode: "richText", confine: true,
      formatter: function (p) { return p.data && p.data.words || p.name || ""; }
    });
    options.textStyle = Object.assign({}, options.textStyle, { fontFamily: getComputedStyle(box).fontFamily });
    if (box.dataset.outlines) return drawMap(box, options);
    show(box, options);
  }

  // show draws in a box that takes no room until then: a chart takes the width that its box has when it begins.
  function show(box, options) {
    box.classList.add("drawn");
    var chart = echarts.init(box, null, { renderer: "svg" });
    chart.setOption(options);
    // A box that is hidden, as in print, has no width: the drawing waits for one.
    if ("ResizeObserver" in window) new ResizeObserver(function () { if (box.clientWidth) chart.resize(); }).observe(box);
    return chart;
  }

  // drawMap fetches the areas' outlines from this server and draws the map over the tiles that stand in for it.
  function drawMap(box, options) {
    fetch(box.dataset.outlines, { credentials: "same-origin" }).then(function (answer) {
      return answer.ok ? answer.json() : null;
    }).then(function (outlines) {
      if (!outlines) return;
      echarts.registerMap(options.series[0].map, outlines);
      var tiles = document.getElementById(box.dataset.instead);
      if (tiles) tiles.hidden = true;
      show(box, options).on("click", function (p) { if (p.data && p.data.path) location.href = p.data.path; });
    }).catch(function () {}); // the tiles stay
  }

  if (typeof echarts === "undefined") return;
  document.querySelectorAll("[data-options]").forEach(draw);
})();
