// Two marks laid over each other: fading from one to the other, and blinking.
import { one, all, key, lay, press, words } from "./desk.js";

const over = one("#over");
const under = one("#under");
const fade = one("#fade");

function place() {
  lay(over, under, one("#compared"));
}
function mix() {
  over.hidden = Number(fade.value) === 0;
  over.style.opacity = fade.value;
  place();
}
fade.addEventListener("input", mix);
// Where the two don't lie on each other by their strokes, the second is brought to the first's width.
over.addEventListener("error", () => {
  if (over.src.endsWith(over.dataset.else)) return;
  over.src = over.dataset.else;
  one("#laid-how").textContent = words.notLaid;
});
let timer = 0;
function blink() {
  const on = timer === 0;
  clearInterval(timer);
  timer = on ? setInterval(() => { fade.value = Number(fade.value) > 0.5 ? 0 : 1; mix(); }, 700) : 0;
  one("#blink").setAttribute("aria-pressed", String(on));
}
one("#blink").addEventListener("click", blink);
key("b", blink);
for (const b of all("button[data-key]")) key(b.dataset.key, () => press(`button[data-key="${b.dataset.key}"]`));
under.addEventListener("load", place);
addEventListener("resize", place);
