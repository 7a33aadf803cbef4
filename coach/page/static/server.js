// Requests to the coach's program on this machine.

const remembered = () => {
  try {
    return sessionStorage.getItem("key") ?? "";
  } catch {
    return "";
  }
};

/** What the program says is wrong, in a sentence for the person. */
export class Problem extends Error {}

/** The program did not answer at all. */
export class Gone extends Problem {
  constructor() {
    super("The coach does not answer. If its window was closed, start it again; this page waits.");
  }
}

/** There is no room on the disk: told again later, it may be kept. */
export class Full extends Problem {}

let locked = ""; // why there is no key

async function request(path, options, secret) {
  let response;
  try {
    response = await fetch(path, { ...options, headers: { ...options.headers, "X-Coach-Key": secret } });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Gone();
  }
  if (response.ok) return response;
  const told = await response.json().catch(() => ({}));
  if (locked && !secret) throw new Problem(locked);
  const Kind = response.status === 507 ? Full : Problem;
  throw new Kind(told.problem ?? `The coach could not do that (${response.status}).`);
}

/** A JSON answer; with a body it is a POST. */
export async function ask(path, body, signal) {
  return (await request(path, asked(body, signal), key)).json();
}

/** An answer that is not JSON; with a body it is a POST. */
export async function bytes(path, { body, secret = key } = {}) {
  return (await request(path, asked(body), secret)).arrayBuffer();
}

function asked(body, signal) {
  if (body === undefined) return { signal };
  return {
    signal,
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(body),
  };
}

const ONCE = "#once.";

/** The key for what the coach opened this page with: others on this machine may have read that. */
async function exchanged() {
  const ticket = location.hash.slice(ONCE.length);
  try {
    const { key: found } = await (await request("/key", asked({ ticket }), "")).json();
    history.replaceState(history.state, "", `#${found}`);
    return found;
  } catch (error) {
    locked = error.message;
    return remembered();
  }
}

/** The secret that the address ends in; kept while this tab is open. */
export const key = location.hash.startsWith(ONCE) ? await exchanged() : location.hash.slice(1) || remembered();
try {
  sessionStorage.setItem("key", key);
} catch {
  // Without storage the address has to keep it.
}

export const pause = (milliseconds) => new Promise((done) => setTimeout(done, milliseconds));

/** How long to wait before trying for the nth time (from 1): longer and longer, up to 5 s. */
export const patience = (attempt) => Math.min(5000, 400 * 2 ** (attempt - 1)) * (0.8 + 0.4 * Math.random());
