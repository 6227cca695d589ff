// What all pages have in common: keys, help, places for messages.
import { words } from "./words.js";

export { words };
export const one = (selector, root = document) => root.querySelector(selector);
export const all = (selector, root = document) => [...root.querySelectorAll(selector)];
export const token = () => one('meta[name="dorso-token"]').content;

// Tells a screen reader, and everybody, what happened.
export function tell(text) {
  const place = one("#told");
  place.textContent = "";
  setTimeout(() => { place.textContent = text; }, 30);
}

export function trouble(text) {
  const place = one("#trouble");
  place.textContent = text;
  place.hidden = !text;
}

// Lays one picture over another, both within `around`.
export function lay(over, under, around) {
  const shown = under.getBoundingClientRect();
  const from = around.getBoundingClientRect();
  over.style.left = `${shown.left - from.left}px`;
  over.style.top = `${shown.top - from.top}px`;
  over.style.width = `${shown.width}px`;
  over.style.height = `${shown.height}px`;
}

const keys = new Map();
// A single key does something wherever no text is being typed.
export function key(name, does) {
  keys.set(name, does);
}

const stored = (name) => {
  try { return localStorage.getItem(name); } catch { return null; }
};
const keysOn = () => stored("dorso-keys") !== "off";

export function press(selector) {
  const button = one(selector);
  if (button && !button.disabled) button.click();
  return Boolean(button);
}

const help = one("#help");
const showHelp = () => help.showModal();
key("h", showHelp);
key("?", showHelp);
key("/", () => {
  const words = one("#words");
  if (words) words.focus();
  else location.assign("/find");
});
if (one("#words") && !location.search) one("#words").focus();
one("#open-help").addEventListener("click", showHelp);
one("#close-help").addEventListener("click", () => help.close());
const box = one("#keys-on");
box.checked = keysOn();
box.addEventListener("change", () => {
  try { localStorage.setItem("dorso-keys", box.checked ? "on" : "off"); } catch { /* then they stay on */ }
});

// Keys that only look work with Alt while text is typed.
const LOOKING = { KeyV: "v", KeyB: "b", KeyG: "g", KeyM: "m" };

// Chances stand in words; who wants their numbers has them everywhere.
const numbers = one("#numbers-on");
function showNumbers(on) {
  numbers.checked = on;
  document.documentElement.classList.toggle("numbers", on);
}
function switchNumbers(on) {
  showNumbers(on);
  try { localStorage.setItem("dorso-numbers", on ? "on" : "off"); } catch { /* for this page, then */ }
}
showNumbers(stored("dorso-numbers") === "on");
numbers.addEventListener("change", () => switchNumbers(numbers.checked));
key("#", () => switchNumbers(!numbers.checked));

document.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.ctrlKey || event.metaKey) return;
  if (event.altKey) {
    const looks = event.target.closest("textarea, input") && keys.get(LOOKING[event.code]);
    if (looks) {
      event.preventDefault();
      looks(event);
    }
    return;
  }
  const field = event.target.closest("textarea, select, input:not([type=radio]):not([type=checkbox]):not([type=range])");
  // A slider keeps the keys that move it.
  const moves = event.target.matches("input[type=range]") && /^(Arrow|Page|Home|End)/.test(event.key);
  if (event.key === "Escape") {
    if (field) field.blur();
    trouble("");
    return;
  }
  // A key held down decides once: what follows hasn't been looked at yet.
  if (field || moves || help.open || !keysOn() || event.repeat) return;
  const does = keys.get(event.key);
  if (does) {
    event.preventDefault();
    does(event);
  }
});

const print = one("#print");
if (print) print.addEventListener("click", () => window.print());
