// The queue of what could not be sent: entries in the browser's own database, in the order in which
// they were put. Pages use it as a module; the service worker has it before its own script.
const DATABASE = "shopflow";

function opened() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(DATABASE, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("queue", { keyPath: "key" });
      request.result.createObjectStore("facts");
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

async function within(store, mode, act) {
  const database = await opened();
  try {
    return await new Promise((resolve, reject) => {
      const transaction = database.transaction(store, mode);
      const request = act(transaction.objectStore(store));
      transaction.oncomplete = () => resolve(request.result);
      transaction.onerror = () => reject(transaction.error);
      transaction.onabort = () => reject(transaction.error);
    });
  } finally {
    database.close();
  }
}

// A key that no other entry has.
export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(18));
  return btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_");
}

export async function allEntries() {
  const entries = await within("queue", "readonly", (store) => store.getAll());
  return entries.sort((one, other) => one.at - other.at);
}

export function findEntry(key) {
  return within("queue", "readonly", (store) => store.get(key));
}

// One that is put again keeps its place; what was refused of it waits again.
export async function putEntry(entry) {
  const before = await findEntry(entry.key);
  const at = before ? before.at : Date.now() + performance.now() / 1e6;
  const whole = { state: "waiting", reason: "", ...entry, at };
  await within("queue", "readwrite", (store) => store.put(whole));
  return whole;
}

export function removeEntry(key) {
  return within("queue", "readwrite", (store) => store.delete(key));
}

export function fact(name) {
  return within("facts", "readonly", (store) => store.get(name));
}

export function setFact(name, value) {
  return within("facts", "readwrite", (store) => store.put(value, name));
}
