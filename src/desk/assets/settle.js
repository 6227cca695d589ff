// One doubtful mark: looking, choosing, deciding, undoing.
import { one, all, key, lay, press, tell, trouble, words } from "./desk.js";
import { save, plainly } from "./saving.js";
import { begin, rows } from "./rows.js";

const form = one("#decide");
const DONE = "dorso-done";
const done = () => {
  try { return JSON.parse(sessionStorage.getItem(DONE)) ?? []; } catch { return []; }
};
const keepDone = (list) => {
  try { sessionStorage.setItem(DONE, JSON.stringify(list.slice(-200))); } catch { /* undo by its button */ }
};

// --- Looking

const picture = one("#crop-picture");
const ways = all("[data-variant]");
let way = 0;
let last = 0;
function show(n) {
  if (!picture || ways.length === 0) return;
  last = way;
  way = (n + ways.length) % ways.length;
  lightOff();
  picture.src = ways[way].dataset.variant;
  ways.forEach((b, i) => b.setAttribute("aria-pressed", String(i === way)));
  loupeSource();
  tell(`${ways[way].textContent.trim()}, ${words.shown}`);
}
// On a narrow page only the way that is shown has its button: pressed again it goes on to the next.
ways.forEach((b, i) => b.addEventListener("click", () => show(i === way ? i + 1 : i)));
key("b", () => show(last));
for (const answer of ["y", "d"]) key(answer, () => one(`.same button[data-key="${answer}"]`)?.click());
key("v", () => show(way + 1));
key("V", () => show(way - 1));

// The same mark in other photographs: the slider fades from one to the next.
const lights = one("#lights");
const over = one("#crop-light");
let lit = [];
// Setting the same address again would have it fetched again.
const put = (img, src) => { if (img.getAttribute("src") !== src) img.src = src; };
function placeLight() {
  if (!over || over.hidden) return;
  lay(over, picture, one("#crop"));
}
function light() {
  const value = Number(one("#light").value);
  const low = Math.min(Math.floor(value), lit.length - 1);
  const next = lit[Math.min(low + 1, lit.length - 1)];
  put(picture, lit[low].src);
  put(over, next.src);
  over.style.opacity = String(value - low);
  over.hidden = value === low;
  one("#light-name").textContent = lit[Math.round(value)].name;
  placeLight();
}
function lightOff() {
  if (!lights || one("#light").hidden) return;
  for (const part of ["#light", "#light-words"]) one(part).hidden = true;
  over.hidden = true;
  one("#light-name").textContent = "";
  one("#lights-switch").setAttribute("aria-pressed", "false");
}
async function switchLights() {
  if (!one("#light").hidden) {
    show(0);
    tell(words.lightOff);
    return;
  }
  if (lit.length === 0) {
    one("#light-name").textContent = words.lightSought;
    try {
      lit = (await (await fetch(lights.dataset.from, { headers: { Accept: "application/json" } })).json()).lights;
    } catch { lit = []; }
  }
  if (lit.length < 2) {
    one("#light-name").textContent = words.lightNone;
    tell(words.lightNone);
    return;
  }
  const slide = one("#light");
  slide.max = String(lit.length - 1);
  slide.value = "0";
  const typing = rows().includes(document.activeElement);
  for (const part of ["#light", "#light-words"]) one(part).hidden = false;
  one("#lights-switch").setAttribute("aria-pressed", "true");
  light();
  if (typing) {
    slide.value = String(Math.min(1, lit.length - 1));
    light();
  } else {
    slide.focus();
  }
}
if (lights) {
  one("#lights-switch").addEventListener("click", switchLights);
  key("g", switchLights);
  one("#light").addEventListener("input", light);
  picture.addEventListener("load", placeLight);
  addEventListener("resize", placeLight);
}

// The picture takes the height that question and first answer leave it above the deeds, no more than it can fill.
// Of a reading some lines are in sight, of answers the first.
const SHOWN = { choice: 90, reading: 190 };
const SHARES = { least: 0.13, most: 0.45 };
function fit() {
  const [frame, deeds] = [one(".look #crop"), one(".deeds")];
  if (!frame || !deeds) return;
  frame.style.height = "";
  const [choice, reading] = [one("#decide label.choice:has(kbd)"), one(".reading")];
  const [first, typing] = [choice ?? reading, one("#typing")];
  if (!first || typing?.open || getComputedStyle(deeds).position !== "fixed") return;
  const { top, height } = first.getBoundingClientRect();
  const room = innerHeight - deeds.offsetHeight - (top + scrollY) - Math.min(height, choice ? SHOWN.choice : SHOWN.reading);
  const filled = picture?.naturalWidth ? frame.clientWidth * picture.naturalHeight / picture.naturalWidth : Infinity;
  const most = Math.min(SHARES.most * innerHeight, filled);
  frame.style.height = `${Math.round(Math.max(SHARES.least * innerHeight, Math.min(most, frame.offsetHeight + room)))}px`;
}
fit();
picture?.addEventListener("load", fit);
one("#typing")?.addEventListener("toggle", fit);
addEventListener("resize", fit);

const loupe = one("#loupe");
const inner = one("#loupe-picture");
const NEARER = 2.5;
let at = { x: 0.5, y: 0.5 };
function loupeSource() {
  if (inner && picture) inner.src = picture.src;
  for (const strip of all(".strip img")) strip.src = picture.src;
}
function placeLoupe() {
  if (!loupe || loupe.hidden) return;
  const shown = picture.getBoundingClientRect();
  const around = one("#crop").getBoundingClientRect();
  const { offsetWidth: w, offsetHeight: h } = loupe;
  inner.style.width = `${shown.width * NEARER}px`;
  inner.style.height = `${shown.height * NEARER}px`;
  inner.style.objectFit = "contain";
  const x = at.x * shown.width;
  const y = at.y * shown.height;
  loupe.style.left = `${Math.round(shown.left - around.left + x - w / 2)}px`;
  loupe.style.top = `${Math.round(shown.top - around.top + y - h / 2)}px`;
  inner.style.left = `${Math.round(w / 2 - x * NEARER)}px`;
  inner.style.top = `${Math.round(h / 2 - y * NEARER)}px`;
}
function moveLoupe(event) {
  const shown = picture.getBoundingClientRect();
  const part = (v, from, size) => Math.min(1, Math.max(0, (v - from) / Math.max(1, size)));
  at = { x: part(event.clientX, shown.left, shown.width), y: part(event.clientY, shown.top, shown.height) };
  placeLoupe();
}
function switchLoupe() {
  loupe.hidden = !loupe.hidden;
  one("#loupe-switch").setAttribute("aria-pressed", String(!loupe.hidden));
  loupeSource();
  placeLoupe();
  tell(loupe.hidden ? words.loupeOff : words.loupeOn);
  // While somebody types, the loupe goes to the line that is typed and leaves them the caret.
  const line = rows().indexOf(document.activeElement);
  const strip = JSON.parse(one("#rows")?.dataset.strips ?? "[]")[line];
  if (strip) {
    at = { x: 0.5, y: strip[0] + strip[1] / 2 };
    placeLoupe();
  } else if (!loupe.hidden) {
    loupe.focus({ preventScroll: true });
  }
}
if (loupe) {
  one("#loupe-switch").addEventListener("click", switchLoupe);
  key("m", switchLoupe);
  one("#crop").addEventListener("pointermove", (e) => { if (!loupe.hidden) moveLoupe(e); });
  loupe.addEventListener("keydown", (e) => {
    const step = e.shiftKey ? 0.1 : 0.03;
    const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[e.key];
    if (!by) return;
    e.preventDefault();
    e.stopPropagation();
    at = { x: Math.min(1, Math.max(0, at.x + by[0])), y: Math.min(1, Math.max(0, at.y + by[1])) };
    placeLoupe();
  });
  picture.addEventListener("load", placeLoupe);
  addEventListener("resize", placeLoupe);
}

// --- Proposals: the chosen one's letters under the picture

function underCrop() {
  const place = one("#under-crop");
  const chosen = one('#proposals-title ~ fieldset input:checked');
  if (!place) return;
  const letters = chosen?.closest(".choice").querySelector(".agreement");
  place.replaceChildren(...(letters ? [...letters.cloneNode(true).childNodes] : []));
}
if (form) form.addEventListener("change", underCrop);
underCrop();

// --- Deciding

function fieldsOf(source, submitter) {
  const fields = [...new FormData(source).entries()].filter(([, v]) => typeof v === "string");
  if (submitter?.name) fields.push([submitter.name, submitter.value]);
  const fit = submitter?.dataset.fit && fields.find(([n]) => n === "fit-pick");
  return fit ? [...fields.filter(([n]) => n !== "pick"), ["pick", fit[1]]] : fields;
}
let busy = false;
async function send(to, fields, keepUndo) {
  if (busy) return;
  busy = true;
  const answer = await save(to, fields);
  busy = false;
  if (answer.conflict) {
    plainly(to, fields.filter(([n]) => n !== "once"));
  } else if (answer.go) {
    if (keepUndo && answer.decision) keepDone([...done(), answer.decision]);
    location.assign(answer.go);
  } else {
    trouble(words.refused + (answer.refused ?? ""));
  }
}
for (const each of [form, one("#entry form"), one("#says form")].filter(Boolean)) {
  each.addEventListener("submit", (event) => {
    event.preventDefault();
    send(new URL(each.action).pathname, fieldsOf(each, event.submitter), true);
  });
}
export function decide(act, more = []) {
  const fields = fieldsOf(form, null).filter(([n]) => !more.some(([m]) => m === n));
  send(new URL(form.action).pathname, [...fields, ["act", act], ...more], true);
}

if (form) {
  for (const button of all("button[data-key]", form)) key(button.dataset.key, () => button.click());
  for (let n = 0; n <= 9; n += 1) {
    key(String(n), () => {
      const choice = one(`input[data-key="${n}"]`, form);
      if (choice) decide("take", [["pick", choice.value]]);
      else one(`.same button[data-number="${n}"]`)?.click();
    });
  }
  // Enter answers as the button does, unless something else has it
  key("Enter", (event) => {
    if (event.target.closest("a, button, summary")) event.target.click();
    else press(".same button.go, #decide button.go");
  });
  if (one(".same button.go")) key("t", () => press(".same button.go"));
  // The button says what it accepts.
  const accept = one("button[data-accept]", form);
  const sayWhat = () => {
    const chosen = one("input[name=pick]:checked", form);
    if (!accept) return;
    accept.disabled = !chosen;
    if (chosen) one("span", accept).textContent = accept.dataset.accept + chosen.dataset.name;
  };
  sayWhat();
  form.addEventListener("change", sayWhat);
  const open = (details, field) => () => {
    const place = one(details);
    place.open = true;
    one(field).focus();
  };
  key("a", open("#asking", "#whom"));
  const type = () => {
    const lines = all("#reading .line");
    begin(lines.findIndex((l) => l.contains(document.activeElement)));
  };
  key("r", type);
  one("#type-it")?.addEventListener("click", type);
  key("e", open("#entry", "#entry-name"));
  const says = open("#says", "#says-words");
  // Begun with the word under the caret, or with what was stated wrongly
  key("f", () => {
    const word = document.activeElement?.closest?.("#reading .word");
    if (word) one("#says-words").value = all(".letter", word).map((l) => l.dataset.text).join("");
    says();
  });
  for (const button of all(".states button")) {
    button.addEventListener("click", () => {
      one("#says-words").value = button.dataset.words;
      one("#says-role").value = button.dataset.role;
      says();
    });
  }
  key("s", () => decide("read"));
}
key("n", () => press("#next"));
key("p", () => press("#previous"));

// --- Undoing: what this window decided last, else what was decided last about this mark

function undo(which) {
  if (!which) {
    tell(words.nothingToUndo);
    return;
  }
  keepDone(done().filter((d) => d !== which));
  const only = new URLSearchParams(location.search).get("picture");
  send("/undo", [["decision", which], ...(only ? [["picture", only]] : [])], false);
}
const lastHere = () => one("#undo-said, #undo-last")?.dataset.decision;
key("z", () => undo(done().at(-1) ?? lastHere()));
for (const button of all("#undo-said, #undo-last")) {
  button.addEventListener("click", (event) => {
    event.preventDefault();
    undo(button.dataset.decision);
  });
}

// --- The note beside it stays fresh, whoever decides

const settle = one("#settle");
const aside = one("#aside");
let newest = null;
async function pulse() {
  try {
    const told = await (await fetch("/pulse", { headers: { Accept: "application/json" } })).json();
    if (newest !== null && told.newest !== newest) {
      const text = await (await fetch(aside.dataset.from)).text();
      aside.replaceChildren(...new DOMParser().parseFromString(text, "text/html").body.childNodes);
    }
    newest = told.newest;
  } catch { /* the next time */ }
}
if (settle && aside) {
  pulse();
  setInterval(() => { if (!document.hidden) pulse(); }, 4000);
}

// --- Begin at the head of the page, and say what was done before

if (form && document.activeElement === document.body) one("h1").focus({ preventScroll: true });
const said = one("#said");
if (said) tell(said.dataset.words);
