// Typing line by line: each line of the picture stands right above its own line of typing. The field
// with all lines stays what is sent; without this script it is typed in itself.
import { one, all, words } from "./desk.js";

const text = one("#text");
const place = one("#rows");
const strips = JSON.parse(place?.dataset.strips ?? "[]");
// Highest that a line of the picture is shown, px.
const HIGHEST = 110;

export const rows = () => all("input", place ?? undefined);
// The field in which somebody types.
export const field = () => (place?.contains(document.activeElement) ? document.activeElement : text);

function strip(i) {
  const [top, height] = strips[i] ?? [];
  const shown = one("#crop-picture");
  const out = document.createElement("div");
  out.className = "strip";
  if (height === undefined) return out;
  const img = document.createElement("img");
  img.alt = "";
  img.addEventListener("load", () => {
    const [w, h] = [img.naturalWidth, img.naturalHeight * height];
    out.style.aspectRatio = `${w} / ${h}`;
    out.style.maxWidth = `${(HIGHEST * w) / h}px`;
    img.style.transform = `translateY(${-100 * top}%)`;
  });
  img.src = shown.src;
  out.append(img);
  return out;
}
function row(i, value) {
  const out = document.createElement("div");
  out.className = "typed";
  const input = document.createElement("input");
  input.value = value;
  input.spellcheck = false;
  input.autocomplete = "off";
  input.setAttribute("autocapitalize", "off");
  input.setAttribute("aria-label", `${words.line} ${i + 1}`);
  input.setAttribute("aria-describedby", "text-how");
  out.append(strip(i), input);
  return out;
}
export function gather() {
  text.value = rows().map((r) => r.value).join("\n");
}
// Lays the lines out anew.
export function fill() {
  if (!place) return;
  const lines = text.value.split("\n");
  while (lines.length < strips.length) lines.push("");
  place.replaceChildren(...lines.map((l, i) => row(i, l)));
}
export function begin(at) {
  const open = one("#typing");
  open.open = true;
  if (rows().length === 0) fill();
  const to = rows()[Math.max(0, Math.min(at, rows().length - 1))] ?? text;
  to.focus();
  to.setSelectionRange(to.value.length, to.value.length);
}
function lines(change, at) {
  const values = rows().map((r) => r.value);
  change(values);
  text.value = values.join("\n");
  fill();
  begin(at);
}

if (place) {
  text.hidden = true;
  one("#typing").addEventListener("toggle", () => {
    if (one("#typing").open && rows().length === 0) fill();
  });
  place.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    const at = rows().indexOf(event.target);
    const { value, selectionStart: caret } = event.target;
    if (event.key === "Enter") {
      lines((all) => all.splice(at, 1, value.slice(0, caret), value.slice(caret)), at + 1);
      rows()[at + 1].setSelectionRange(0, 0);
    } else if (event.key === "Backspace" && value === "" && rows().length > 1) {
      lines((all) => all.splice(at, 1), at - 1);
    } else if (event.key === "ArrowUp" && at > 0) {
      begin(at - 1);
    } else if (event.key === "ArrowDown" && at < rows().length - 1) {
      begin(at + 1);
    } else {
      return;
    }
    event.preventDefault();
    place.dispatchEvent(new Event("input", { bubbles: true }));
  });
}
export function swap(by) {
  const at = rows().indexOf(document.activeElement);
  const to = at + by;
  if (at < 0 || to < 0 || to >= rows().length) return;
  lines((all) => { [all[at], all[to]] = [all[to], all[at]]; }, to);
}
