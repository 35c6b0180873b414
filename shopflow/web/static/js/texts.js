// Texts in the language of the page, which names those that differ from the ones in the scripts.
const texts = JSON.parse(document.documentElement.dataset.texts || "{}");

// A text with its placeholders filled in, as gettext of shopflow/texts.py.
export const gettext = (message, values = {}) =>
  (texts[message] || message).replace(/\{(\w+)\}/g, (name, key) => (key in values ? values[key] : name));

// One of two texts, for one and for many; the count stands in them as {count}.
export const counted = (one, many, count) => (count === 1 ? one : many).replace("{count}", String(count));
