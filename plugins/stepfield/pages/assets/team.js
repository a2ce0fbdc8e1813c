// The page of the whole team: moves and enlarges its picture, and on a phone shows one phase at a time.
// The page is complete without this.
(function () {
  "use strict";
  var page = document.querySelector(".sf-page-team, .sf-page-picture");
  if (!page) { return; }
  var narrow = window.matchMedia("(max-width: 44.9375em)");

  function list(selector, root) { return Array.prototype.slice.call((root || page).querySelectorAll(selector)); }
  function limited(value, least, most) { return Math.max(least, Math.min(value, most)); }

  // one phase at a time
  var sections = list(".sf-phase");
  var chips = list(".sf-phases a");
  var shown = 0;

  function showPhase(number) {
    shown = number;
    sections.forEach(function (section, at) {
      if (narrow.matches && at !== number) { section.setAttribute("hidden", "until-found"); } else { section.removeAttribute("hidden"); }
    });
    list(".sf-meet").forEach(function (group) {
      group.hidden = narrow.matches && group.getAttribute("data-phase") !== String(number + 1);
    });
    chips.forEach(function (chip, at) {
      if (narrow.matches && at === number) { chip.setAttribute("aria-current", "true"); } else { chip.removeAttribute("aria-current"); }
    });
  }

  function phaseOf(element) {
    for (var at = 0; at < sections.length; at += 1) { if (sections[at].contains(element)) { return at; } }
    return -1;
  }

  function target() {
    var name = window.location.hash.slice(1).split("?")[0];
    try { return name ? document.getElementById(decodeURIComponent(name)) : null; } catch (error) { return null; }
  }

  function go(place) {
    // the whole row, so that a caution above the words of the step is seen; the browser's own jump comes first
    var row = place.closest("tr") || place;
    row.scrollIntoView();
    window.setTimeout(function () { row.scrollIntoView(); }, 0);
  }

  function follow() {
    var place = target();
    var at = place ? phaseOf(place) : -1;
    if (at >= 0) {
      if (sections[at].hasAttribute("hidden")) { showPhase(at); }
      go(place);
    }
    mark(place);
  }

  // links to the phases before and after, copied from the list of phases
  sections.forEach(function (section, at) {
    var place = section.querySelector(".sf-turn");
    [at - 1, at + 1].forEach(function (other) {
      if (!place || !chips[other]) { return; }
      var link = chips[other].cloneNode(true);
      link.className = "sf-button";
      link.removeAttribute("aria-current");
      link.insertBefore(document.createTextNode(other < at ? "← " : "→ "), link.firstChild);
      place.appendChild(link);
    });
    if (place) { place.hidden = false; }
    section.addEventListener("beforematch", function () { showPhase(at); });
  });

  // the picture
  var stage = page.querySelector(".sf-stage");
  var svg = stage && stage.querySelector("svg");
  var nodes = svg ? list(".sf-node", svg) : [];
  var bands = svg ? list(".sf-band", svg) : [];
  var tops = svg && svg.querySelector(".sf-heads-float");
  var whole = svg ? { w: svg.viewBox.baseVal.width, h: svg.viewBox.baseVal.height } : null;
  var view = { x: 0, y: 0, scale: 1 };
  var MOST = 3, EDGE = 24;

  function mark(place) {
    nodes.forEach(function (node) {
      if (place && node.getAttribute("href") === "#" + place.id) { node.classList.add("sf-node-here"); } else { node.classList.remove("sf-node-here"); }
    });
  }

  function least() { return Math.min(stage.clientWidth / whole.w, stage.clientHeight / whole.h, 1); }

  function between(value, size, room) {
    return size <= room ? (size - room) / 2 : limited(value, -EDGE, size - room + EDGE);
  }

  function draw() {
    var w = stage.clientWidth / view.scale, h = stage.clientHeight / view.scale;
    if (!w || !h) { return; }
    view.x = between(view.x, whole.w, w);
    view.y = whole.h <= h ? 0 : limited(view.y, -EDGE, whole.h - h + EDGE);
    svg.setAttribute("viewBox", [view.x, view.y, w, h].join(" "));
    tops.setAttribute("transform", "translate(0 " + Math.max(0, view.y) + ")");
    tops.style.display = view.y > 40 ? "" : "none";
  }

  function zoom(factor, x, y) {
    var box = stage.getBoundingClientRect();
    var px = x === undefined ? box.width / 2 : x - box.left, py = y === undefined ? box.height / 2 : y - box.top;
    var scale = limited(view.scale * factor, least(), MOST);
    view.x += px / view.scale - px / scale;
    view.y += py / view.scale - py / scale;
    view.scale = scale;
    draw();
  }

  function reset() {
    view = { x: 0, y: 0, scale: limited(stage.clientWidth / whole.w, 0.8, 1.25) };
    draw();
  }

  function fit() { view = { x: 0, y: 0, scale: least() }; draw(); }

  function move(dx, dy) {
    var before = view.y;
    view.x += dx / view.scale;
    view.y += dy / view.scale;
    draw();
    return (view.y - before) * view.scale;
  }

  function reveal(box) {
    var w = stage.clientWidth / view.scale, h = stage.clientHeight / view.scale, head = 50;
    if (box.x < view.x) { view.x = box.x - EDGE; }
    if (box.x + box.width > view.x + w) { view.x = box.x + box.width + EDGE - w; }
    if (box.y < view.y + head) { view.y = box.y - head - EDGE; }
    if (box.y + box.height > view.y + h) { view.y = box.y + box.height + EDGE - h; }
    draw();
  }

  function inWhole(element) {
    var box = element.getBoundingClientRect(), frame = stage.getBoundingClientRect();
    return {
      x: view.x + (box.left - frame.left) / view.scale, y: view.y + (box.top - frame.top) / view.scale,
      width: box.width / view.scale, height: box.height / view.scale
    };
  }

  function toPhase(number) {
    bands.forEach(function (band) {
      if (band.getAttribute("data-phase") === String(number)) {
        view.y = parseFloat(band.getAttribute("data-top"));
        view.scale = Math.max(view.scale, limited(stage.clientWidth / whole.w, 0.8, 1.25));
        view.x = 0;
        draw();
      }
    });
  }

  var KEYS = {
    "+": function () { zoom(1.25); }, "=": function () { zoom(1.25); }, "-": function () { zoom(0.8); },
    "0": function () { reset(); }, "ArrowLeft": function () { move(-80, 0); }, "ArrowRight": function () { move(80, 0); },
    "ArrowUp": function () { move(0, -80); }, "ArrowDown": function () { move(0, 80); },
    "PageUp": function () { move(0, -stage.clientHeight * 0.8); }, "PageDown": function () { move(0, stage.clientHeight * 0.8); },
    "Home": function () { reset(); }, "End": function () { move(0, whole.h * view.scale); }
  };

  function keys(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || !KEYS.hasOwnProperty(event.key)) { return; }
    event.preventDefault();
    KEYS[event.key]();
  }

  // pointers: one drags, two pinch; a drag is no click
  var held = {}, dragged = false, from = null;

  function points() { return Object.keys(held).map(function (id) { return held[id]; }); }

  function apart(two) { return Math.sqrt(Math.pow(two[0].x - two[1].x, 2) + Math.pow(two[0].y - two[1].y, 2)); }

  function down(event) {
    if (event.button) { return; }
    if (!points().length) { dragged = false; from = { x: event.clientX, y: event.clientY }; }
    held[event.pointerId] = { x: event.clientX, y: event.clientY };
  }

  function moved(event) {
    var last = held[event.pointerId];
    if (!last) { return; }
    var here = { x: event.clientX, y: event.clientY }, two = points();
    if (!dragged && two.length === 1 && Math.abs(here.x - from.x) + Math.abs(here.y - from.y) < 6) { return; }
    if (!dragged) {
      dragged = true;
      stage.classList.add("sf-stage-held");
      try { stage.setPointerCapture(event.pointerId); } catch (error) { /* it has ended */ }
    }
    if (two.length === 2) {
      var before = apart(two), middle = { x: (two[0].x + two[1].x) / 2, y: (two[0].y + two[1].y) / 2 };
      held[event.pointerId] = here;
      two = points();
      move(middle.x - (two[0].x + two[1].x) / 2, middle.y - (two[0].y + two[1].y) / 2);
      if (before > 0) { zoom(apart(two) / before, (two[0].x + two[1].x) / 2, (two[0].y + two[1].y) / 2); }
    } else {
      held[event.pointerId] = here;
      var wanted = last.y - here.y, done = move(last.x - here.x, wanted);
      if (event.pointerType === "touch" && Math.abs(wanted - done) > 1) { window.scrollBy(0, wanted - done); }
    }
  }

  function up(event) {
    delete held[event.pointerId];
    if (!points().length) { stage.classList.remove("sf-stage-held"); }
  }

  function start() {
    if (stage.classList.contains("sf-stage-live") || !stage.clientWidth) { return; }
    stage.classList.add("sf-stage-live");
    svg.setAttribute("preserveAspectRatio", "xMinYMin meet");
    list(".sf-whole-tools, .sf-whole-help").forEach(function (place) { place.hidden = false; });
    stage.addEventListener("keydown", keys);
    stage.addEventListener("wheel", function (event) {
      if (!event.ctrlKey) { return; }
      event.preventDefault();
      zoom(Math.exp(-event.deltaY / 300), event.clientX, event.clientY);
    }, { passive: false });
    stage.addEventListener("pointerdown", down);
    stage.addEventListener("pointermove", moved);
    stage.addEventListener("pointerup", up);
    stage.addEventListener("pointercancel", up);
    stage.addEventListener("dragstart", function (event) { event.preventDefault(); });
    stage.addEventListener("click", function (event) { if (dragged) { event.preventDefault(); event.stopPropagation(); dragged = false; } }, true);
    stage.addEventListener("scroll", function () { stage.scrollTop = 0; stage.scrollLeft = 0; });
    stage.addEventListener("focusin", function (event) { if (event.target !== stage && !points().length) { reveal(inWhole(event.target)); } });
    list(".sf-tool").forEach(function (button) {
      button.addEventListener("click", function () {
        var what = button.getAttribute("data-do"), phase = button.getAttribute("data-phase");
        if (phase) { toPhase(phase); } else if (what === "in") { zoom(1.25); } else if (what === "out") { zoom(0.8); } else if (what === "fit") { fit(); } else { reset(); }
      });
    });
    window.addEventListener("resize", draw);
    reset();
  }

  var offer = page.querySelector(".sf-whole-offer"), figure = page.querySelector(".sf-whole");
  if (offer && figure) {
    offer.hidden = false;
    offer.querySelector("button").addEventListener("click", function () {
      var open = figure.classList.toggle("sf-whole-shown");
      this.setAttribute("aria-expanded", String(open));
      if (open) { start(); figure.scrollIntoView(); }
    });
  }
  if (stage) { start(); }

  function turned() { showPhase(Math.max(0, shown)); if (stage) { start(); } }
  if (narrow.addEventListener) { narrow.addEventListener("change", turned); } else if (narrow.addListener) { narrow.addListener(turned); }
  window.addEventListener("hashchange", follow);
  showPhase(Math.max(0, target() ? phaseOf(target()) : 0));
  if (target() && phaseOf(target()) >= 0) {
    go(target());
    window.addEventListener("load", function () { if (target()) { go(target()); } });
  }
  mark(target());
})();
