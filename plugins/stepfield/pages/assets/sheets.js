// Cards and sheets: the button that prints; without scripts the browser's own menu does.
(function () {
  "use strict";
  var button = document.getElementById("p-print");
  if (!button || !window.print) { return; }
  button.hidden = false;
  button.addEventListener("click", function () { window.print(); });
}());
