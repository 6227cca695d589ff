// Photographs dropped on the page, how far their reading is, and files chosen for a field.
import { one, token, tell, trouble, words } from "./desk.js";
import { sent } from "./send.js";

const drop = one("#drop");

async function send(files) {
  const group = Math.floor(Date.now() % 1e9);
  const faults = [];
  let taken = 0;
  for (const file of files) {
    tell(`${words.sending} ${file.name}`);
    const about = new URLSearchParams({
      name: file.name, group, picture: one("#picture-name").value, apart: one("#apart").checked ? "1" : "0",
    });
    try {
      const answer = await sent(about, file);
      if (answer.taken) taken += 1;
      else faults.push(`${file.name} ${words.notTaken} ${answer.refused}`);
    } catch {
      faults.push(`${file.name} ${words.notTaken} ${words.notSaved}`);
    }
    state();
  }
  tell(`${taken} ${words.sent}`);
  if (faults.length > 0) trouble(faults.join(" · "));
}

async function state() {
  try {
    const told = await (await fetch("/bring/state", { headers: { Accept: "application/json" } })).json();
    const bar = one("#progress");
    bar.max = Math.max(1, told.all);
    bar.value = told.done;
    const place = one("#progress-words");
    if (place.textContent !== told.words) place.textContent = told.words;
    one("#stop").hidden = !told.running;
    one("#go-on").hidden = told.running || told.waiting === 0;
    const list = one("#faults");
    if (list.children.length !== told.faults.length) {
      list.replaceChildren(...told.faults.map((f) => {
        const item = document.createElement("li");
        item.textContent = f;
        return item;
      }));
    }
  } catch { /* asked again in a moment */ }
}

if (drop) {
  for (const name of ["dragover", "dragenter"]) {
    addEventListener(name, (e) => { e.preventDefault(); drop.classList.add("over"); });
  }
  addEventListener("dragleave", () => drop.classList.remove("over"));
  addEventListener("drop", (e) => {
    e.preventDefault();
    drop.classList.remove("over");
    send([...e.dataTransfer.files]);
  });
  for (const input of [one("#files"), one("#camera")]) input.addEventListener("change", () => send([...input.files]));
  for (const id of ["#stop", "#go-on"]) {
    one(id).addEventListener("submit", async (e) => {
      e.preventDefault();
      const form = e.currentTarget;
      await fetch(form.action, {
        method: "POST",
        headers: { Accept: "application/json" },
        body: new URLSearchParams({ token: token() }),
      }).catch(() => trouble(words.notSaved));
      state();
    });
  }
  setInterval(state, 1000);
}

const answers = one("#answers-file");
if (answers) {
  answers.addEventListener("change", async () => {
    if (answers.files[0]) one("#answers").value = await answers.files[0].text();
  });
}
