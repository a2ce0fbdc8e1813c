// Everything works without this. It marks a review that has fallen due since the site was built.
(function () {
  "use strict";
  var now = new Date();
  function two(number) { return (number < 10 ? "0" : "") + number; }
  var today = now.getFullYear() + "-" + two(now.getMonth() + 1) + "-" + two(now.getDate());
  document.querySelectorAll("[data-review-by]").forEach(function (place) {
    if (place.getAttribute("data-review-by") < today) {
      var mark = document.createElement("strong");
      mark.className = "sf-overdue";
      mark.textContent = " " + (place.getAttribute("data-overdue") || "");
      place.appendChild(mark);
    }
  });
})();
