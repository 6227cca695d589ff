// Sends decisions so that none is lost: each is put by in the browser before it is sent, and stays
// there until the desk has answered. Sent twice, it counts once: see "once".
import { token, trouble, tell, words, one } from "./desk.js";

const NAME = "dorso-unsent";
const read = () => {
  try { return JSON.parse(localStorage.getItem(NAME)) ?? []; } catch { return []; }
};
const write = (list) => {
  try { localStorage.setItem(NAME, JSON.stringify(list)); } catch { /* then only this page keeps it */ }
};
const drop = (once) => write(read().filter((kept) => kept.once !== once));

export function word() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
}

const wait = (ms) => new Promise((done) => setTimeout(done, ms));

async function post(kept) {
  const fields = new URLSearchParams(kept.fields);
  fields.set("once", kept.once);
  fields.set("token", kept.token ?? token());
  return fetch(kept.to, {
    method: "POST",
    headers: { Accept: "application/json" },
    body: fields,
  });
}

// Sends until there is an answer. Gives { go } when it is kept, { conflict } or { refused } else.
async function deliver(kept) {
  for (let tries = 0; ; tries += 1) {
    let answer = null;
    try {
      answer = await post(kept);
    } catch {
      answer = null;
    }
    if (answer && answer.status === 403) {
      // The desk was started anew: ask for the word of this run.
      try {
        kept.token = (await (await fetch("/session", { headers: { Accept: "application/json" } })).json()).token;
      } catch { answer = null; }
      if (answer && tries < 3) continue;
    }
    if (answer && answer.status < 500 && answer.status !== 429) {
      drop(kept.once);
      trouble("");
      if (answer.ok) return answer.json();
      if (answer.status === 409) {
        const told = await answer.json().catch(() => ({}));
        return told.conflict ? { conflict: true } : { refused: told.refused ?? "" };
      }
      const told = await answer.text();
      try { return { refused: JSON.parse(told).refused }; } catch { return { refused: told }; }
    }
    trouble(words.notSaved);
    await wait(Math.min(500 * 2 ** tries, 5000));
  }
}

// Keeps a form's decision; `fields` are pairs of name and value.
export async function save(to, fields) {
  const kept = { to, fields, once: word() };
  write([...read(), kept]);
  tell(words.saving);
  return deliver(kept);
}

// The same form sent plainly: the desk's own page answers, for example with two decisions side by
// side.
export function plainly(to, fields) {
  const form = document.createElement("form");
  form.method = "post";
  form.action = to;
  for (const [name, value] of [...fields.filter(([n]) => n !== "token"), ["token", token()], ["once", word()]]) {
    const input = document.createElement("input");
    input.type = "hidden";
    input.name = name;
    input.value = value;
    form.append(input);
  }
  document.body.append(form);
  form.submit();
}

// What an earlier page couldn't send.
async function late() {
  for (const kept of read()) {
    delete kept.token;
    const done = await deliver(kept);
    if (done.go) tell(words.savedLate);
    else trouble(done.conflict ? words.changed : words.refused + (done.refused ?? ""));
  }
}
if (one('meta[name="dorso-token"]')) late();
