// Elements of the page. Texts are set as texts: nothing that a program, a station or a file name says becomes markup.

/** An element with attributes, handlers (`onclick`) and children, which are elements or texts. */
function element(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (typeof value === "function") made.addEventListener(key.slice(2), value);
    else if (value === true) made.setAttribute(key, "");
    else if (value !== false && value !== undefined) made.setAttribute(key, value);
  }
  made.append(...children);
  return made;
}

/** Sets a text only where it differs, so that nothing is announced or laid out for nothing. */
function setText(target, text) {
  if (target.textContent !== text) target.textContent = text;
}

/** Calls at most once a frame, the last time for good. */
function onceAFrame(work) {
  let asked = false;
  return () => {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => {
      asked = false;
      work();
    });
  };
}

/** Calls when nothing has asked for it for a while. */
function afterRest(milliseconds, work) {
  let timer = 0;
  return () => {
    clearTimeout(timer);
    timer = setTimeout(work, milliseconds);
  };
}

function counted(count, noun) {
  return `${count} ${noun}${count === 1 ? "" : "s"}`;
}
