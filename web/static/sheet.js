// What every page gains from script: "/" goes to the find field, a form that came
// back refused shows its first problem, and a second click sends nothing twice.

// Keys that do something alone can be switched off: who dictates would press them by
// speaking (WCAG 2.1.4). The browser keeps the choice, as far as it keeps anything.
const choice = "single-keys";

function singleKeys() {
  try {
    return localStorage.getItem(choice) !== "off";
  } catch {
    return true;
  }
}

const box = document.getElementById("f-single_keys");
if (box) {
  box.checked = singleKeys();
  box.closest("[hidden]").hidden = false;
  box.addEventListener("change", () => {
    try {
      localStorage.setItem(choice, box.checked ? "on" : "off");
    } catch {
      box.checked = true;
    }
  });
}

document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || !singleKeys() || event.ctrlKey || event.metaKey || event.altKey) return;
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
