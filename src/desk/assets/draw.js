// Outlines drawn by hand on the photograph.
import { one, all, key, press, tell, trouble, words } from "./desk.js";
import { save, plainly } from "./saving.js";
import { size, inSight, onPhotograph, perScreen } from "./viewer.js";

const drawing = one("#drawing");
const form = one("#draw-form");
const outlines = one("#outlines");
const sheet = one("#sheet");
let corners = null;
let handles = [];
let line = null;

function fields() {
  corners.forEach((c, i) => {
    form.elements[`x${i}`].value = Math.round(c.x);
    form.elements[`y${i}`].value = Math.round(c.y);
  });
}
function draw() {
  const points = corners.map((c) => `${c.x},${c.y}`).join(" ");
  for (const p of line) p.setAttribute("points", points);
  handles.forEach((h, i) => {
    h.style.left = `${(100 * corners[i].x) / size.w}%`;
    h.style.top = `${(100 * corners[i].y) / size.h}%`;
  });
  fields();
}
function put(i, x, y) {
  corners[i] = { x: Math.min(size.w, Math.max(0, x)), y: Math.min(size.h, Math.max(0, y)) };
  draw();
}
function handle(i) {
  const h = document.createElement("button");
  h.type = "button";
  h.className = "handle";
  h.textContent = String(i + 1);
  h.setAttribute("aria-label", `${words.corner} ${i + 1}`);
  h.addEventListener("pointerdown", (e) => {
    e.stopPropagation();
    h.setPointerCapture(e.pointerId);
  });
  h.addEventListener("pointermove", (e) => {
    if (!h.hasPointerCapture(e.pointerId)) return;
    const p = onPhotograph(e.clientX, e.clientY);
    put(i, p.x, p.y);
  });
  h.addEventListener("keydown", (e) => {
    const step = (e.shiftKey ? 20 : 2) * perScreen();
    const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[e.key];
    if (!by) return;
    e.preventDefault();
    e.stopPropagation();
    put(i, corners[i].x + by[0], corners[i].y + by[1]);
  });
  return h;
}
function begin(points) {
  end();
  corners = points;
  handles = corners.map((_, i) => handle(i));
  sheet.append(...handles);
  line = ["under", "line"].map((name) => {
    const p = document.createElementNS("http://www.w3.org/2000/svg", "polygon");
    p.setAttribute("class", name);
    outlines.append(p);
    return p;
  });
  draw();
  handles[0].focus({ preventScroll: true });
}
function end() {
  handles.forEach((h) => h.remove());
  line?.forEach((p) => p.remove());
  handles = [];
  line = null;
}

function chosen() {
  return one("a.chosen", outlines);
}
function choose(id) {
  all("a", outlines).forEach((a) => a.classList.toggle("chosen", a.dataset.mark === id));
  const found = chosen();
  form.elements.mark.value = found ? id : "";
  one("#draw-new").hidden = Boolean(found);
  for (const b of all('[data-draw="mend"], [data-draw="turn"]')) b.disabled = !found;
  if (found) {
    one("#part-mark").value = id;
    one("#join-mark").value = id;
    tell(found.getAttribute("aria-label"));
  }
  return found;
}
function cornersOf(a) {
  return one("polygon.line", a).getAttribute("points").split(" ").map((p) => {
    const [x, y] = p.split(",").map(Number);
    return { x, y };
  });
}
function add() {
  drawing.open = true;
  choose("");
  form.elements["keep-turn"].value = "";
  const s = inSight();
  const [cx, cy] = [(s.left + s.right) / 2, (s.top + s.bottom) / 2];
  const [w, h] = [(s.right - s.left) / 6, (s.bottom - s.top) / 8];
  begin([{ x: cx - w, y: cy - h }, { x: cx + w, y: cy - h }, { x: cx + w, y: cy + h }, { x: cx - w, y: cy + h }]);
}
function mend() {
  const a = chosen();
  if (!a) return;
  drawing.open = true;
  form.elements["keep-turn"].value = "";
  begin(cornersOf(a));
}
function turn() {
  const a = chosen();
  if (!a) return;
  drawing.open = true;
  const now = corners && line ? corners : cornersOf(a);
  begin([now[3], now[0], now[1], now[2]]);
  form.elements["keep-turn"].value = "1";
}

if (form && outlines) {
  const does = { add, mend, turn };
  for (const b of all("[data-draw]")) b.addEventListener("click", does[b.dataset.draw]);
  key("a", add);
  key("m", () => press('[data-draw="mend"]'));
  key("r", () => press('[data-draw="turn"]'));
  // With the tools open a mark is chosen; else its link leads to it.
  outlines.addEventListener("click", (e) => {
    const a = e.target.closest("a");
    if (a && drawing.open) {
      e.preventDefault();
      choose(a.dataset.mark);
    }
  });
  form.elements.mark.addEventListener("change", () => choose(form.elements.mark.value.trim()));
  for (let i = 0; i < 4; i += 1) {
    for (const axis of ["x", "y"]) {
      form.elements[axis + i].addEventListener("change", () => {
        if (!corners || !line) return;
        put(i, Number(form.elements[`x${i}`].value), Number(form.elements[`y${i}`].value));
      });
    }
  }
  form.addEventListener("submit", async (e) => {
    e.preventDefault();
    const to = new URL(form.action).pathname;
    const sent = [...new FormData(form).entries()].filter(([n]) => n !== "once");
    const answer = await save(to, sent);
    if (answer.conflict) plainly(to, sent);
    else if (answer.go) location.assign(answer.go);
    else trouble(words.refused + (answer.refused ?? ""));
  });
  const asked = new URLSearchParams(location.search).get("mark");
  if (asked) choose(asked);
}
