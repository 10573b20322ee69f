// What every page gains from script: "/" goes to the find field, a form that came
// back refused shows its first problem, and a second click sends nothing twice.
document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  const at = document.activeElement;
  if (at && (at.matches("input, textarea, select") || at.isContentEditable)) return;
  const find = document.getElementById("find");
  if (find) {
    event.preventDefault();
    find.focus();
    find.select();
  }
});

document.getElementById("refused")?.focus();

// On the window, so that a page's own script has had its say. Not for long: whoever
// stopped the page may send again.
const sent = new WeakMap();
addEventListener("submit", (event) => {
  if (event.defaultPrevented || event.target.method !== "post") return;
  if (event.timeStamp - (sent.get(event.target) ?? -Infinity) < 2000) event.preventDefault();
  else sent.set(event.target, event.timeStamp);
});
