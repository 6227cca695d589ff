// Sends a photograph to this machine.
import { tell, token, words } from "./desk.js";

// Where the connection is lost the photograph is sent anew; one that had arrived is kept once.
const TRIES = 60;
async function answered(about, file) {
  for (let tried = 1; ; tried += 1) {
    try {
      return await fetch(`/dropped/photograph?${about}`, {
        method: "POST",
        headers: { Accept: "application/json", "X-Dorso-Token": token(), "Content-Type": "application/octet-stream" },
        body: file,
      });
    } catch (lost) {
      if (tried === TRIES) throw lost;
      tell(`${file.name} ${words.sentAgain}`);
      await new Promise((done) => setTimeout(done, Math.min(500 * tried, 10_000)));
    }
  }
}

// What is answered; where it wasn't taken, `refused` says why.
export async function sent(about, file) {
  const answer = await answered(about, file);
  const told = await answer.text();
  try {
    return JSON.parse(told);
  } catch {
    return { refused: told };
  }
}
