// The reading letter by letter, and the field in which it is typed.
import { one, all, key, tell, words } from "./desk.js";
import { decide } from "./settle.js";
import { field, fill, gather, rows, swap } from "./rows.js";

const text = one("#text");
const letters = all("#reading .letter");
const DOT = "\u0323";
let current = -1;
let typedByHand = false;

// --- Letters

function signOf(button) {
  const d = button.dataset;
  if (d.lost) return "[.]";
  if (d.stretch && !d.now) return "[---]";
  const sign = d.now ?? d.text;
  if (sign === "") return d.now === "" ? "" : "[.]";
  return d.unclear ? (sign + DOT).normalize("NFC") : sign;
}
function reading() {
  return all("#reading .line").map((line) => {
    let out = "";
    for (const place of all("[data-space], .letter", line)) {
      out += place.dataset.space ? " " : signOf(place);
    }
    return out.replace(/\](?=\[\.)\[/g, "").trim();
  }).filter(Boolean).join("\n");
}
function changed(button, said) {
  button.classList.add("changed");
  one(".sign", button).textContent = signOf(button) || "–";
  if (!typedByHand) {
    text.value = reading();
    fill();
  }
  tell(`${button.dataset.text || "–"} ${words.is} ${said}`);
}
function choose(n) {
  if (letters.length === 0) return;
  current = Math.min(letters.length - 1, Math.max(0, n));
  letters.forEach((b, i) => { b.tabIndex = i === current ? 0 : -1; });
  letters[current].focus();
}
function other(step) {
  const button = letters[current];
  const options = [button.dataset.text, ...JSON.parse(button.dataset.others).map(([s]) => s)];
  const now = options.indexOf(button.dataset.now ?? button.dataset.text);
  const next = options[(now + step + options.length) % options.length];
  button.dataset.now = next;
  delete button.dataset.lost;
  changed(button, next || "–");
}
letters.forEach((b, i) => {
  b.addEventListener("click", () => (i === current ? other(1) : choose(i)));
  b.addEventListener("keydown", (event) => {
    const does = { ArrowLeft: () => choose(current - 1), ArrowRight: () => choose(current + 1), ArrowUp: () => other(-1), ArrowDown: () => other(1) }[event.key];
    if (does) {
      event.preventDefault();
      event.stopPropagation();
      does();
    }
  });
  b.addEventListener("focus", () => { current = i; });
});
if (letters.length > 0) letters[0].tabIndex = 0;
const aside = () => document.activeElement?.closest("fieldset, .loupe, .tools") === null;
key("ArrowRight", () => aside() && choose(current + 1));
key("ArrowLeft", () => aside() && choose(current - 1));

function unclear() {
  if (current < 0) { choose(0); return; }
  const d = letters[current].dataset;
  if (d.unclear) delete d.unclear; else d.unclear = "1";
  changed(letters[current], d.unclear ? words.letterUnclear : signOf(letters[current]));
}
function lost() {
  if (current < 0) { choose(0); return; }
  const d = letters[current].dataset;
  if (d.lost) delete d.lost; else d.lost = "1";
  changed(letters[current], d.lost ? words.letterLost : signOf(letters[current]));
}
key("u", unclear);
key("l", lost);
one("#unclear")?.addEventListener("click", unclear);
one("#lost")?.addEventListener("click", lost);

// --- Typing

function put(sign) {
  const into = field();
  const { selectionStart: a, selectionEnd: b } = into;
  const chosen = into.value.slice(a, b);
  let piece = sign;
  let back = 0;
  if (sign === "[|]") { piece = `[${chosen}]`; back = chosen ? 0 : 1; }
  if (sign === "[/]") { piece = `[${chosen}/]`; back = 1; }
  if (sign === DOT) piece = chosen ? [...chosen].map((c) => (c.trim() ? c + DOT : c)).join("").normalize("NFC") : DOT;
  into.setRangeText(piece, a, b, "end");
  if (back) into.selectionEnd = into.selectionStart = into.selectionEnd - back;
  into.focus();
  typed();
}
function move(by) {
  swap(by);
  typed();
}
let timer = 0;
let asked = 0;
function typed() {
  typedByHand = true;
  if (rows().length > 0) gather();
  clearTimeout(timer);
  timer = setTimeout(fits, 150);
}
async function fits() {
  const mine = ++asked;
  const id = one("#settle").dataset.mark;
  try {
    const answer = await fetch(`/mark/${id}/fits?${new URLSearchParams({ text: text.value })}`);
    if (!answer.ok) return;
    const page = await answer.text();
    // A later question may have been answered first.
    if (mine !== asked) return;
    one("#fits").replaceChildren(...new DOMParser().parseFromString(page, "text/html").body.childNodes);
  } catch {
    // The desk didn't answer: asked again in a while, or with the next letter.
    setTimeout(() => { if (mine === asked) fits(); }, 1000);
  }
}
if (text) {
  let last = text;
  one("#typing").addEventListener("focusin", (event) => { if (event.target.matches("#rows input")) last = event.target; });
  for (const place of [text, one("#rows")]) place.addEventListener("input", typed);
  one("#typing").addEventListener("toggle", () => { if (one("#typing").open) fits(); });
  const back = (does) => () => { last.focus(); does(); };
  for (const b of all("[data-sign]")) b.addEventListener("click", back(() => put(b.dataset.sign)));
  for (const b of all("[data-move]")) b.addEventListener("click", back(() => move(Number(b.dataset.move))));
  const signs = { F2: DOT, F4: "[.]", F8: "[---]", F9: "[|]", F10: "[/]" };
  one("#typing").addEventListener("keydown", (event) => {
    if (!event.target.matches("#text, #rows input")) return;
    if (signs[event.key]) {
      event.preventDefault();
      put(signs[event.key]);
    } else if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
      event.preventDefault();
      decide("read");
    } else if (event.altKey && event.key === "ArrowUp") {
      event.preventDefault();
      move(-1);
    } else if (event.altKey && event.key === "ArrowDown") {
      event.preventDefault();
      move(1);
    } else if (event.altKey && /^[1-9]$/.test(event.key)) {
      const choice = all('#fits input[value^="take:"]')[Number(event.key) - 1];
      if (choice) {
        event.preventDefault();
        decide("take", [["pick", choice.value]]);
      }
    }
  });
}
