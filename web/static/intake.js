// The counter's form: finds the customer while digits are typed, says when a
// board was here before, and keeps the hands on the keys. Without it the form's
// own buttons do the same.
const form = document.getElementById("take-in");
const who = document.getElementById("f-who");
const matches = document.getElementById("matches");
const complaint = document.getElementById("f-complaint");
const limit = document.getElementById("f-limit");
const askFirst = document.getElementById("f-ask_first");
const newCustomer = document.getElementById("new-customer");
const serial = document.getElementById("f-serial");
const known = document.getElementById("known");

document.getElementById("look-up").hidden = true;
for (const hint of document.querySelectorAll(".script-only")) hint.hidden = false;

const choices = () => [...matches.querySelectorAll("input[name=customer]")];

// fetched puts a fragment of the page where it belongs; an answer that a newer
// question has overtaken is dropped, and a broken network leaves all as it was.
function fetcher(target, address, then) {
  let asked = 0;
  return async (value) => {
    const mine = ++asked;
    try {
      const answer = await fetch(address + encodeURIComponent(value), { headers: { Accept: "text/html" } });
      if (!answer.ok || answer.redirected || mine !== asked) return;
      target.innerHTML = await answer.text();
      then(value);
    } catch {
      document.getElementById("look-up").hidden = false; // the form's own way still works
    }
  };
}

function later(task, wait) {
  let timer;
  const run = (value) => {
    clearTimeout(timer);
    timer = setTimeout(() => task(value), wait);
  };
  run.now = (value) => {
    clearTimeout(timer);
    return task(value);
  };
  return run;
}

// The limit follows the chosen customer as long as nobody has typed one.
let filled = limit.value !== "" && choices().some((c) => c.checked && c.dataset.limit === limit.value);
limit.addEventListener("input", () => { filled = false; });

function fillLimit() {
  const chosen = choices().find((c) => c.checked);
  if (askFirst.checked || (limit.value !== "" && !filled)) return;
  limit.value = chosen?.dataset.limit ?? "";
  filled = limit.value !== "";
}

askFirst.addEventListener("change", () => {
  if (askFirst.checked && filled) limit.value = "";
  if (!askFirst.checked) fillLimit();
});

// Somebody new: what was typed is a number or a name already.
function openNew() {
  const phone = document.getElementById("f-phone");
  const name = document.getElementById("f-name");
  const typed = who.value.trim();
  newCustomer.open = true;
  if (/^[\d +()./-]{5,}$/.test(typed)) {
    if (phone.value === "") phone.value = typed;
  } else if (/\p{L}/u.test(typed) && name.value === "") {
    name.value = typed;
  }
  name.focus();
}

let looking = null; // a look-up whose answer is still on its way
const lookUp = later(fetcher(matches, "/customers?q=", fillLimit), 150);
who.addEventListener("input", () => {
  const typed = who.value.trim();
  if (typed === "") {
    matches.innerHTML = "";
    return;
  }
  if (typed.length >= 2) lookUp(typed);
});

// Enter chooses the one customer found and goes on to the complaint at once, so
// that nothing typed after it lands in the wrong field.
who.addEventListener("keydown", async (event) => {
  if (event.key !== "Enter" || event.ctrlKey || event.metaKey || who.value.trim() === "") return;
  event.preventDefault();
  const known = choices().filter((c) => c.value !== "new");
  if (known.length > 1) {
    (known.find((c) => c.checked) ?? known[0]).focus();
    return;
  }
  complaint.focus();
  await (looking = lookUp.now(who.value.trim()));
  looking = null;
  if (choices().length === 0 && document.activeElement === complaint && complaint.value.trim() === "") openNew();
});

matches.addEventListener("change", (event) => {
  if (event.target.name !== "customer") return;
  if (event.target.value === "new") openNew();
  fillLimit();
});
matches.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.ctrlKey || event.metaKey || event.target.name !== "customer") return;
  event.preventDefault();
  if (!event.target.checked) {
    event.target.checked = true;
    event.target.dispatchEvent(new Event("change", { bubbles: true }));
  }
  if (event.target.value !== "new") complaint.focus();
});

// A serial that was here before brings its revision along.
const kind = document.getElementById("f-kind");
const lookBack = later(fetcher(known, "/boards?serial=", () => {
  const is = known.querySelector("[data-kind]")?.dataset.kind;
  if (is && kind.value === "") kind.value = is;
}), 250);
serial.addEventListener("input", () => {
  if (serial.value.trim().length < 2) {
    known.innerHTML = "";
    return;
  }
  lookBack(serial.value.trim());
});

form.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
    event.preventDefault();
    form.requestSubmit(form.querySelector("button.main"));
  }
});

// One press is one ticket; the server makes sure of it as well. Who types faster
// than the look-up answers is sent on when it has.
let sent = false;
form.addEventListener("submit", async (event) => {
  if (sent || looking) event.preventDefault();
  if (sent) return;
  if (looking) {
    await looking;
    looking = null;
    form.requestSubmit(event.submitter);
    return;
  }
  sent = true;
});
addEventListener("pageshow", () => { sent = false; });
