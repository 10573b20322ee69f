// What every page gains from script: "/" goes to the find field, and a form
// that came back refused shows its first problem.
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
