// The button that opens the browser's print dialogue; without script the
// browser's own menu prints.
const button = document.getElementById("print");
if (button) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
