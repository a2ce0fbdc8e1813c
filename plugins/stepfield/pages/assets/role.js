// A role's page: choices that leave only the steps they ask for, countdowns, and walking from step to step.
// The page is complete without this. It works from a folder, asks for nothing and writes words as text only.
(function () {
  "use strict";
  var page = document.querySelector(".sf-page-part");
  var team = document.querySelector(".sf-page-team");

  function list(selector, root) { return Array.prototype.slice.call((root || page).querySelectorAll(selector)); }
  function filled(text, values) {
    return Object.keys(values).reduce(function (said, name) { return said.split("{" + name + "}").join(values[name]); }, text || "");
  }
  function kept(name, value) { // what a reload may take up again; a browser may refuse to keep anything
    try {
      if (value === undefined) { return window.sessionStorage.getItem(name); }
      if (value === null) { window.sessionStorage.removeItem(name); } else { window.sessionStorage.setItem(name, value); }
    } catch (error) { /* then a reload forgets */ }
    return null;
  }
  function address(search, hash) {
    var url = window.location.pathname + search + hash;
    try { window.history.replaceState(null, "", url); return true; } catch (error) { return false; }
  }

  // links to the other pages of the protocol keep the choices
  function keepInLinks(search) {
    var way = window.location.pathname.match(/^(.*\/protocols\/)([a-z0-9-]+)(\.html|\/[a-z0-9_-]+\.html)$/);
    if (!way) { return; }
    list("a[href]", page || team).forEach(function (link) {
      var there = link.pathname;
      if (link.getAttribute("href").charAt(0) === "#" || link.host !== window.location.host) { return; }
      if (there === way[1] + way[2] + ".html" || there.indexOf(way[1] + way[2] + "/") === 0) { link.search = search; }
    });
  }

  if (team && /^\?[a-z0-9=&-]+$/.test(window.location.search)) { keepInLinks(window.location.search); }
  var words = page && page.querySelector(".sf-walk");
  if (!words) { return; }

  // choices
  var form = page.querySelector(".sf-choices");
  var sets = form ? list("fieldset", form) : [];
  var conditional = list("[data-when]");

  function read() {
    var picks = {}, known = {};
    sets.forEach(function (set) {
      known[set.getAttribute("data-choice")] = list("input", set).map(function (input) { return input.value; });
    });
    window.location.search.slice(1).split("&").forEach(function (part) {
      var pair = part.split("="), options = Object.prototype.hasOwnProperty.call(known, pair[0]) ? known[pair[0]] : [];
      if (pair[1] && options.indexOf(pair[1]) >= 0) { picks[pair[0]] = pair[1]; }
    });
    return picks;
  }

  function fits(when, picks) {
    return when.split(" ").every(function (part) {
      var pair = part.split("="), pick = picks[pair[0]];
      return pick === undefined || pair[1].split("|").indexOf(pick) >= 0;
    });
  }

  function search(picks) {
    var parts = sets.map(function (set) { return set.getAttribute("data-choice"); })
      .filter(function (name) { return picks[name] !== undefined; })
      .map(function (name) { return name + "=" + picks[name]; });
    return parts.length ? "?" + parts.join("&") : "";
  }

  function show(picks) {
    sets.forEach(function (set) {
      list("input", set).forEach(function (input) { input.checked = input.value === (picks[input.name] || ""); });
    });
    conditional.forEach(function (place) { place.hidden = !fits(place.getAttribute("data-when"), picks); });
    list(".sf-phase").forEach(function (phase) {
      var some = list("ol.sf-steps > li", phase).some(function (entry) { return !entry.hidden; });
      phase.querySelector(".sf-idle").hidden = some;
    });
    var steps = list(".sf-step"), shown = steps.filter(function (step) { return !step.hidden; });
    if (form) {
      form.classList.toggle("sf-picked", search(picks) !== ""); // paper says which choices it is for
      form.querySelector(".sf-matching").textContent =
        filled(words.getAttribute("data-matching"), { shown: shown.length, all: steps.length });
    }
    keepInLinks(search(picks));
    place();
  }

  function picked() {
    var picks = {};
    sets.forEach(function (set) {
      var chosen = set.querySelector("input:checked");
      if (chosen && chosen.value) { picks[set.getAttribute("data-choice")] = chosen.value; }
    });
    if (!address(search(picks), window.location.hash)) { window.location.search = search(picks); }
    show(picks);
  }

  // from step to step
  var current = null;

  function entries() { return list("ol.sf-steps > li").filter(function (entry) { return !entry.hidden; }); }
  function alone() { return document.documentElement.classList.contains("sf-alone"); }
  function named() {
    var name = window.location.hash.slice(1);
    try { return name ? document.getElementById(decodeURIComponent(name)) : null; } catch (error) { return null; }
  }

  function inSight(entry) {
    var box = entry.getBoundingClientRect();
    return box.bottom > 120 && box.top < window.innerHeight - 120;
  }

  function place() {
    var all = entries();
    if (current && all.indexOf(current) < 0) { mark(null); }
    if (!current && alone() && all.length) { mark(all[0]); }
    var at = all.indexOf(current), text = words.querySelector(".sf-walk-place");
    text.textContent = at < 0 ? "" : filled(words.getAttribute("data-place"), {
      step: current.getAttribute("data-number"), place: at + 1, all: all.length
    });
    words.querySelector(".sf-walk-bar").value = all.length ? (at + 1) / all.length : 0;
    words.querySelector(".sf-walk-back").disabled = at === 0 || !all.length;
    words.querySelector(".sf-walk-on").disabled = !all.length || at === all.length - 1;
    list(".sf-phase").forEach(function (phase) { phase.classList.toggle("sf-phase-now", !!current && phase.contains(current)); });
  }

  function mark(entry) {
    list("[aria-current='step']").forEach(function (other) { other.removeAttribute("aria-current"); });
    current = entry;
    if (entry) { entry.setAttribute("aria-current", "step"); }
  }

  function goTo(entry) {
    mark(entry);
    place();
    entry.setAttribute("tabindex", "-1");
    entry.focus({ preventScroll: true });
    if (alone()) { window.scrollTo(0, 0); } else { entry.scrollIntoView(); }
    if (entry.id) { address(window.location.search, "#" + entry.id); }
  }

  function step(by) {
    var all = entries(), at = all.indexOf(current);
    if (!all.length) { return; }
    if (at < 0 || !(alone() || inSight(current))) { // go on from what is looked at
      var seen = all.filter(inSight)[0], from = seen ? all.indexOf(seen) : at;
      at = from < 0 ? 0 : by > 0 && seen && seen !== current && at < 0 ? from : from + by;
    } else { at += by; }
    goTo(all[Math.max(0, Math.min(at, all.length - 1))]);
  }

  function one(on) {
    var seen = current && entries().indexOf(current) >= 0 ? current : entries().filter(inSight)[0] || entries()[0];
    var button = words.querySelector(".sf-walk-one");
    document.documentElement.classList.toggle("sf-alone", on);
    button.setAttribute("aria-pressed", String(on));
    button.textContent = words.getAttribute(on ? "data-all" : "data-one");
    kept("stepfield-alone", on ? "1" : null);
    if (seen) {
      mark(seen);
      if (on) { window.scrollTo(0, 0); } else { seen.scrollIntoView(); }
    }
    place();
  }

  function follow() {
    var entry = named();
    entry = entry && entry.closest("ol.sf-steps > li");
    if (!entry) { return; }
    if (entry.hidden) { // the link means this step: whatever choice hides it is open again
      var picks = read(), when = entry.getAttribute("data-when");
      when.split(" ").forEach(function (part) { if (!fits(part, picks)) { delete picks[part.split("=")[0]]; } });
      address(search(picks), window.location.hash);
      show(picks);
      entry.scrollIntoView();
    }
    mark(entry);
    place();
  }

  function typing(target) { return target && target.closest && target.closest("input, textarea, select, [contenteditable]"); }

  document.addEventListener("keydown", function (event) {
    var turned = getComputedStyle(page).direction === "rtl" ? -1 : 1, all;
    if (event.defaultPrevented || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey || typing(event.target)) { return; }
    if (event.key === "ArrowRight") { step(turned); }
    else if (event.key === "ArrowLeft") { step(-turned); }
    else if (alone() && event.key === "Escape") { one(false); }
    else if (alone() && (event.key === "Home" || event.key === "End")) {
      all = entries();
      if (all.length) { goTo(all[event.key === "Home" ? 0 : all.length - 1]); }
    } else { return; }
    event.preventDefault();
  });

  // countdowns: the clock on the wall counts, not the ticks, so a sleeping tab shows the right time when it wakes
  var title = document.title, running = {}, sound = null, ticking = 0;
  var boxes = list(".sf-timer");

  function stored(key) { return "stepfield-timer " + window.location.pathname + " " + key; }
  function faces(key) { return boxes.filter(function (box) { return box.getAttribute("data-timer") === key; }); }
  function digits(left) {
    var whole = Math.ceil(left / 1000), hours = Math.floor(whole / 3600), rest = whole % 3600;
    var two = function (number) { return (number < 10 ? "0" : "") + number; };
    return (hours ? hours + ":" + two(Math.floor(rest / 60)) : String(Math.floor(rest / 60))) + ":" + two(rest % 60);
  }
  function say(key, text) { faces(key).slice(0, 1).forEach(function (box) { box.querySelector(".sf-timer-said").textContent = text; }); }
  function numberOf(key) { return faces(key)[0].closest(".sf-step").getAttribute("data-number"); }

  function awake() { // only ever after a touch or a key of the reader's own
    var Sound = window.AudioContext || window.webkitAudioContext;
    try {
      sound = sound || (Sound ? new Sound() : null);
      if (sound && sound.state === "suspended") { sound.resume(); }
    } catch (error) { sound = null; }
  }

  function beeps(seconds) { // planned on the sound's own clock, which no browser slows down in the background
    if (!sound) { return []; }
    return [0, 0.5, 1, 2, 2.5, 3].map(function (after) {
      var tone = sound.createOscillator(), loud = sound.createGain(), at = sound.currentTime + seconds + after;
      tone.frequency.value = 880;
      loud.gain.value = 0.4;
      tone.connect(loud);
      loud.connect(sound.destination);
      tone.start(at);
      tone.stop(at + 0.3);
      return tone;
    });
  }
  function silence(timer) {
    timer.tones.forEach(function (tone) { try { tone.stop(); tone.disconnect(); } catch (error) { /* it is over */ } });
    timer.tones = [];
  }

  function start(key, seconds) {
    awake();
    running[key] = { end: Date.now() + seconds * 1000, seconds: seconds, half: false, over: false, tones: beeps(seconds), due: 0 };
    running[key].due = sound ? sound.currentTime + seconds : 0;
    kept(stored(key), JSON.stringify({ end: running[key].end, seconds: seconds }));
    say(key, filled(words.getAttribute("data-started"), { time: digits(seconds * 1000) }));
    tick();
  }

  function stop(key, text) {
    silence(running[key]);
    delete running[key];
    kept(stored(key), null);
    say(key, text);
    tick();
  }

  function turn(key) {
    var timer = running[key], left = Math.min(timer.end - Date.now(), timer.seconds * 1000);
    if (timer.end - Date.now() > timer.seconds * 1000 + 1000) { timer.end = Date.now() + timer.seconds * 1000; } // the clock was set back
    if (left > 0 && !timer.half && left <= timer.seconds * 500) {
      timer.half = true;
      say(key, filled(words.getAttribute("data-half"), { time: digits(left) }));
    }
    if (left <= 0 && !timer.over) {
      timer.over = true;
      if (sound && sound.currentTime < timer.due - 1) { silence(timer); timer.tones = beeps(0); } // it had slept
      say(key, filled(words.getAttribute("data-over"), { step: numberOf(key) }));
    }
    faces(key).forEach(function (box) {
      box.querySelector(".sf-timer-left").textContent = digits(Math.max(left, 0));
      box.querySelector("progress").value = 100 - 100 * Math.max(left, 0) / (timer.seconds * 1000);
    });
    return left;
  }

  function tick() {
    var keys = Object.keys(running), soonest = null, over = null;
    keys.forEach(function (key) {
      var left = turn(key);
      if (running[key].over) { over = over || key; } else if (soonest === null || left < soonest) { soonest = left; }
    });
    boxes.forEach(function (box) {
      var timer = running[box.getAttribute("data-timer")];
      box.querySelector(".sf-timer-go").hidden = !!timer;
      box.querySelector(".sf-timer-run").hidden = !timer || timer.over;
      box.querySelector(".sf-timer-over").hidden = !timer || !timer.over;
    });
    document.title = over ? "⏰ " + filled(words.getAttribute("data-over"), { step: numberOf(over) }) + " " + title
      : soonest !== null ? "⏳ " + digits(soonest) + " " + title : title;
    if (keys.length && !ticking) { ticking = window.setInterval(tick, 250); }
    if (!keys.length && ticking) { window.clearInterval(ticking); ticking = 0; }
  }

  function takeUp() {
    boxes.forEach(function (box) {
      var key = box.getAttribute("data-timer"), was, seconds = +box.getAttribute("data-seconds");
      if (running[key]) { return; }
      try { was = JSON.parse(kept(stored(key)) || "null"); } catch (error) { was = null; }
      if (!was || was.seconds !== seconds || !(was.end > 0)) { return; } // another time by now
      running[key] = { end: was.end, seconds: seconds, half: was.end - Date.now() <= seconds * 500, over: false, tones: [], due: 0 };
    });
    if (!Object.keys(running).length) { return; }
    tick();
    var again = function () {
      ["pointerdown", "keydown"].forEach(function (kind) { document.removeEventListener(kind, again); });
      awake();
      Object.keys(running).forEach(function (key) {
        var timer = running[key], left = (timer.end - Date.now()) / 1000;
        if (sound && left > 0 && !timer.tones.length) { timer.tones = beeps(left); timer.due = sound.currentTime + left; }
      });
    };
    ["pointerdown", "keydown"].forEach(function (kind) { document.addEventListener(kind, again); });
  }

  boxes.forEach(function (box) {
    var key = box.getAttribute("data-timer"), seconds = +box.getAttribute("data-seconds");
    function press(name, act) {
      box.querySelector(name).addEventListener("click", function () {
        act();
        var next = list(".sf-press", box).filter(function (button) { return button.offsetParent !== null; })[0];
        if (next) { next.focus(); }
      });
    }
    press(".sf-timer-go", function () { start(key, seconds); });
    press(".sf-timer-stop", function () { stop(key, words.getAttribute("data-stopped")); });
    press(".sf-timer-clear", function () { stop(key, ""); });
  });

  words.hidden = false;
  document.documentElement.classList.add("sf-walking");
  words.querySelector(".sf-walk-back").addEventListener("click", function () { step(-1); });
  words.querySelector(".sf-walk-on").addEventListener("click", function () { step(1); });
  words.querySelector(".sf-walk-one").addEventListener("click", function () { one(!alone()); });
  if (form) {
    form.hidden = false;
    form.addEventListener("change", picked);
    form.addEventListener("submit", function (event) { event.preventDefault(); });
  }
  window.addEventListener("hashchange", follow);
  document.addEventListener("visibilitychange", tick);
  show(read());
  follow();
  takeUp();
  tick();
  if (kept("stepfield-alone")) { one(true); }
})();
