// A photograph under a glass: the whole picture first, then tiles of as fine a level as the eye
// can use. Only what is in sight is asked for.
import { one, all, key } from "./desk.js";

const TILE = 512;
const frame = one("#viewer");
const sheet = one("#sheet");
const tiles = one("#tiles");
export const size = frame && { w: Number(frame.dataset.width), h: Number(frame.dataset.height) };
// px of the screen for one px of the photograph; place of the photograph's corner in the frame.
let scale = 1;
let left = 0;
let top = 0;

const fit = () => Math.min(frame.clientWidth / size.w, frame.clientHeight / size.h);
const levels = () => {
  let n = 1;
  for (let side = Math.max(size.w, size.h); side > TILE; side = Math.ceil(side / 2)) n += 1;
  return n;
};

function lay() {
  const least = fit();
  scale = Math.min(Math.max(scale, least), Math.max(4, least * 4));
  const w = size.w * scale;
  const h = size.h * scale;
  const hold = (v, inner, outer) => (inner <= outer ? (outer - inner) / 2 : Math.min(0, Math.max(outer - inner, v)));
  left = hold(left, w, frame.clientWidth);
  top = hold(top, h, frame.clientHeight);
  sheet.style.width = `${w}px`;
  sheet.style.height = `${h}px`;
  sheet.style.transform = `translate(${left}px, ${top}px)`;
  want();
}

let asked = 0;
function want() {
  cancelAnimationFrame(asked);
  asked = requestAnimationFrame(() => {
    const fine = 1 / (scale * (window.devicePixelRatio || 1));
    const level = Math.min(levels() - 1, Math.max(0, Math.floor(Math.log2(fine) + 0.25)));
    // The picture below is 1600 px on its longer side: tiles only where they show more.
    if (Math.max(size.w, size.h) / 2 ** level <= 1600) {
      tiles.replaceChildren();
      return;
    }
    const side = TILE * 2 ** level;
    const from = (v) => Math.max(0, Math.floor(-v / scale / side));
    const to = (v, room, all) => Math.min(Math.ceil(all / side), Math.ceil((room - v) / scale / side));
    const wanted = new Map();
    for (let y = from(top); y < to(top, frame.clientHeight, size.h); y += 1) {
      for (let x = from(left); x < to(left, frame.clientWidth, size.w); x += 1) {
        wanted.set(`/tile/${frame.dataset.photograph}/${level}/${x}/${y}.jpg`, [x, y]);
      }
    }
    const there = new Map([...tiles.children].map((t) => [t.dataset.at, t]));
    const fresh = [];
    for (const [address, [x, y]] of wanted) {
      if (there.has(address)) continue;
      const tile = document.createElement("img");
      tile.alt = "";
      tile.dataset.at = address;
      const w = Math.min(side, size.w - x * side);
      const h = Math.min(side, size.h - y * side);
      tile.style.left = `${(100 * x * side) / size.w}%`;
      tile.style.top = `${(100 * y * side) / size.h}%`;
      tile.style.width = `${(100 * w) / size.w}%`;
      tile.style.height = `${(100 * h) / size.h}%`;
      tile.addEventListener("error", () => tile.remove());
      fresh.push(new Promise((done) => { tile.addEventListener("load", done); tile.addEventListener("error", done); }));
      tile.src = address;
      tiles.append(tile);
    }
    // Coarser ones stay until the finer ones are there.
    Promise.all(fresh).then(() => {
      for (const tile of [...tiles.children]) if (!wanted.has(tile.dataset.at) && tile.complete) tile.remove();
      frame.dataset.ready = String(Number(frame.dataset.ready ?? 0) + 1);
    });
  });
}

export function nearer(by, x = frame.clientWidth / 2, y = frame.clientHeight / 2) {
  const before = scale;
  scale = Math.min(Math.max(scale * by, fit()), Math.max(4, fit() * 4));
  left = x - ((x - left) * scale) / before;
  top = y - ((y - top) * scale) / before;
  lay();
}
export function whole() {
  scale = fit();
  lay();
}
// The place on the photograph of a place on the screen, px.
export function onPhotograph(clientX, clientY) {
  const b = frame.getBoundingClientRect();
  return { x: (clientX - b.left - frame.clientLeft - left) / scale, y: (clientY - b.top - frame.clientTop - top) / scale };
}
// What of the photograph is in sight, px.
export function inSight() {
  const b = frame.getBoundingClientRect();
  const a = onPhotograph(b.left, b.top);
  const c = onPhotograph(b.right, b.bottom);
  const clamp = (v, most) => Math.min(most, Math.max(0, v));
  return { left: clamp(a.x, size.w), top: clamp(a.y, size.h), right: clamp(c.x, size.w), bottom: clamp(c.y, size.h) };
}
export const perScreen = () => 1 / scale;

if (frame) {
  whole();
  addEventListener("resize", lay);
  frame.addEventListener("wheel", (e) => {
    e.preventDefault();
    const b = frame.getBoundingClientRect();
    nearer(e.deltaY < 0 ? 1.25 : 0.8, e.clientX - b.left, e.clientY - b.top);
  }, { passive: false });

  // One finger or the mouse moves, two fingers bring nearer.
  const down = new Map();
  let moved = 0;
  let spread = 0;
  frame.addEventListener("pointerdown", (e) => {
    if (e.target.closest(".handle")) return;
    down.set(e.pointerId, e);
    moved = 0;
    spread = 0;
    frame.classList.add("held");
  });
  addEventListener("pointermove", (e) => {
    const last = down.get(e.pointerId);
    if (!last) return;
    down.set(e.pointerId, e);
    if (down.size === 1) {
      moved += Math.abs(e.clientX - last.clientX) + Math.abs(e.clientY - last.clientY);
      left += e.clientX - last.clientX;
      top += e.clientY - last.clientY;
      lay();
    } else {
      const [a, b] = [...down.values()];
      const now = Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
      const box = frame.getBoundingClientRect();
      if (spread > 0) nearer(now / spread, (a.clientX + b.clientX) / 2 - box.left, (a.clientY + b.clientY) / 2 - box.top);
      spread = now;
      moved += 10;
    }
  });
  for (const end of ["pointerup", "pointercancel"]) {
    addEventListener(end, (e) => {
      down.delete(e.pointerId);
      spread = 0;
      if (down.size === 0) frame.classList.remove("held");
    });
  }
  // A drag over an outline is no click on it.
  frame.addEventListener("click", (e) => { if (moved > 6) { e.preventDefault(); e.stopPropagation(); moved = 0; } }, true);
  frame.addEventListener("dragstart", (e) => e.preventDefault());

  frame.addEventListener("keydown", (e) => {
    if (e.target !== frame) return;
    const step = 60;
    const by = { ArrowLeft: [step, 0], ArrowRight: [-step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] }[e.key];
    if (!by) return;
    e.preventDefault();
    left += by[0];
    top += by[1];
    lay();
  });
  const does = { in: () => nearer(1.5), out: () => nearer(1 / 1.5), whole };
  for (const b of all("[data-do]")) b.addEventListener("click", does[b.dataset.do]);
  key("+", does.in);
  key("=", does.in);
  key("-", does.out);
  key("0", does.whole);
}
