/* Turns the screenfuls of a wall screen, and keeps it up to date. Old syntax on purpose: it runs on televisions.

   Whether there is a newer build is asked by loading version.js, which is published last: that works from a server and
   from a folder, and a file or server that is away changes nothing. The page loads anew once for a number it has not
   got; if what comes is still the old page, the copy is not complete yet, and it waits longer each time. */
(function () {
  "use strict";

  var root = document.documentElement;
  var NUMBER = /^[0-9a-f]{1,64}$/;
  var MINUTE = 60000, PATIENCE = 30000;
  var WAITS = [0, 1, 2, 4, 8, 15];
  var mine = root.getAttribute("data-build") || "";
  var words = {}, opened = now(), since = Date.now();
  var confirmed = null, failed = false, gone = false, changing = false, misfit = false;
  var cards = [], sections = [], shown = 0, paused = false, turning = null, asked = 0;

  /* A clock that is set back makes nothing fresh again: the longer of two counts is believed. */
  function now() {
    var steady = window.performance && performance.now ? performance.now() : 0;
    return { wall: Date.now(), steady: steady };
  }

  function passed(from) {
    var to = now();
    return Math.max(to.wall - from.wall, to.steady - from.steady, 0);
  }

  function byId(name) { return document.getElementById(name); }

  /* What the page was doing when it loaded itself anew: number looked for, tries, screenful, paused. */
  function memory() {
    var found = /^#([0-9a-f]{1,64})-(\d{1,4})-(\d{1,5})-([01])$/.exec(location.hash);
    return found ? { id: found[1], tries: +found[2], shown: +found[3], paused: found[4] === "1" } :
      { id: "", tries: 0, shown: 0, paused: false };
  }

  function whole() {
    var end = byId("w-end");
    if (!end || end.getAttribute("data-build") !== mine || !window.getComputedStyle) { return false; }
    var style = getComputedStyle(end);
    return style.display === "none" && style.visibility === "hidden";
  }

  function each(list, act) {
    for (var i = 0; i < list.length; i += 1) { act(list[i], i); }
  }

  function toggle(element, name, on) {
    if (on) { element.classList.add(name); } else { element.classList.remove(name); }
  }

  /* Turning */

  function shape() { return window.innerWidth >= window.innerHeight ? "lying" : "standing"; }

  function seconds() {
    return (root.getAttribute("data-seconds-" + shape()) || "10").split(",");
  }

  function show(number) {
    var all = seconds(), name = "data-" + shape();
    shown = (number % all.length + all.length) % all.length;
    each(sections, function (section) {
      var any = false;
      each(section.cards, function (card) {
        var on = card.getAttribute(name) === String(shown);
        toggle(card, "w-off", !on);
        any = any || on;
      });
      toggle(section.element, "w-off", !any);
      if (any) {
        var box = section.element.querySelector(".w-cards");
        box.scrollTop = 0;
        misfit = box.scrollHeight > box.clientHeight + 1 || box.scrollWidth > box.clientWidth + 1;
        toggle(root, "w-misfit", misfit);
      }
    });
    byId("w-place").textContent = words.place.replace("{number}", shown + 1).replace("{count}", all.length);
    byId("w-progress").value = (shown + 1) / all.length;
    tell();
    wait();
  }

  function wait() {
    clearTimeout(turning);
    var all = seconds();
    if (!paused && all.length > 1) {
      turning = setTimeout(function () { show(shown + 1); }, (+all[shown] || 10) * 1000);
    }
  }

  function pause(on) {
    paused = on;
    toggle(root, "w-paused", paused);
    byId("w-pause").setAttribute("aria-pressed", paused ? "true" : "false");
    byId("w-pause").setAttribute("aria-label", paused ? words.go : words.pause);
    wait();
  }

  /* The first screenful of the section before or after the one that is shown. */
  function phase(step) {
    var name = "data-" + shape(), firsts = [], here = 0;
    each(sections, function (section) {
      var first = null;
      each(section.cards, function (card) {
        if (first === null && card.hasAttribute(name)) { first = +card.getAttribute(name); }
      });
      if (first !== null) { firsts.push(first); }
    });
    each(firsts, function (first, i) { if (first <= shown) { here = i; } });
    show(firsts[(here + step + firsts.length) % firsts.length]);
  }

  var KEYS = {
    37: function () { show(shown - (root.dir === "rtl" ? -1 : 1)); },
    39: function () { show(shown + (root.dir === "rtl" ? -1 : 1)); },
    33: function () { phase(-1); },
    34: function () { phase(1); },
    36: function () { show(0); },
    35: function () { show(-1); }
  };

  function key(event) {
    var code = event.keyCode || event.which, on = event.target && event.target.tagName === "BUTTON";
    if (event.ctrlKey || event.altKey || event.metaKey) { return; }
    if ((code === 32 || code === 13) && !on) {
      pause(!paused);
    } else if (KEYS[code]) {
      KEYS[code]();
    } else {
      return;
    }
    event.preventDefault();
  }

  /* How things are */

  function two(number) { return (number < 10 ? "0" : "") + number; }

  function time(at) {
    var day = new Date(at), today = new Date();
    var clock = two(day.getHours()) + ":" + two(day.getMinutes());
    if (day.toDateString() === today.toDateString()) { return clock; }
    return day.getFullYear() + "-" + two(day.getMonth() + 1) + "-" + two(day.getDate()) + " " + clock;
  }

  function tell() {
    var last = confirmed || opened, limit = +root.getAttribute("data-stale") * 1000;
    var old = passed(last) > limit, how = "is-confirmed";
    if (gone) {
      how = "is-gone";
    } else if (changing) {
      how = "is-changing";
    } else if (old) {
      how = "is-stale";
    } else if (misfit) {
      how = "is-misfit";
    } else if (!confirmed) {
      how = "is-unconfirmed";
    } else if (failed) {
      how = "is-since";
    }
    toggle(root, "w-stale", gone || changing || old);
    byId("w-status").textContent = words[how].replace("{time}", time(since));
  }

  /* Asking whether there is a newer build */

  function ask() {
    var script = document.createElement("script"), turn, done = false;
    function end(well) {
      if (done) { return; }
      done = true;
      clearTimeout(turn);
      if (script.parentNode) { script.parentNode.removeChild(script); }
      if (!well) { missed(); }
      setTimeout(ask, MINUTE + (Math.random() - 0.5) * 20000);
    }
    asked = 0;
    script.onload = function () { end(asked > 0); };
    script.onerror = function () { end(false); };
    turn = setTimeout(function () { end(false); }, PATIENCE);
    script.src = root.getAttribute("data-root") + "version.js?" + Date.now();
    document.head.appendChild(script);
  }

  function missed() {
    failed = true;
    show_state();
  }

  function show_state() {
    if (root.classList.contains("w-live")) { tell(); }
  }

  window.__build = function (id, pages) {
    if (typeof id !== "string" || !NUMBER.test(id)) { return; }
    asked += 1;
    failed = false;
    if (id === mine) {
      confirmed = now();
      since = confirmed.wall;
      gone = changing = false;
    } else if (pages && pages.indexOf && pages.indexOf(root.getAttribute("data-page")) < 0) {
      gone = true;
    } else {
      renew(id);
    }
    show_state();
  };

  function renew(id) {
    var before = memory(), tries = before.id === id ? before.tries : 0, next = Math.min(tries + 1, 9999);
    changing = true;
    if (passed(opened) >= WAITS[Math.min(tries, WAITS.length - 1)] * MINUTE) {
      /* The number of the try makes it another address: a browser does not load again where only the place differs. */
      location.replace(location.href.split(/[?#]/)[0] + "?b=" + id + "." + next + "#" +
        [id, next, shown, paused ? 1 : 0].join("-"));
    }
  }

  function start() {
    each(document.querySelectorAll("#w-words span"), function (word) {
      words[word.getAttribute("data-name")] = word.textContent;
    });
    if (!whole()) {
      mine = "";
      toggle(root, "w-broken", true);
      ask();
      return;
    }
    each(document.querySelectorAll(".w-section"), function (section) {
      sections.push({ element: section, cards: section.querySelectorAll(".w-card") });
    });
    toggle(root, "w-live", true);
    byId("w-back").onclick = function () { show(shown - 1); };
    byId("w-next").onclick = function () { show(shown + 1); };
    byId("w-pause").onclick = function () { pause(!paused); };
    byId("w-main").onclick = function () { pause(!paused); };
    document.addEventListener("keydown", key);
    window.addEventListener("resize", function () { show(shown); });
    var before = memory();
    paused = before.paused;
    show(before.shown);
    pause(before.paused);
    setInterval(tell, MINUTE / 2);
    ask();
  }

  if (document.readyState === "complete") {
    start();
  } else {
    window.addEventListener("load", start);
  }
}());
