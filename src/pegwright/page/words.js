/* Elements with text, in which a line never ends inside an option of a command. */
const Words = (() => {
  const OPTION = /(--[a-z][a-z-]*)/, CODE = /(`[^`]+`)/;

  /** Text with each option in one piece; copied, it is the same text. */
  const whole = (text) => String(text).split(OPTION).map((part, place) => {
    if (place % 2 === 0) return part;
    return Object.assign(document.createElement("span"), { className: "option", textContent: part });
  });

  function make(tag, text, className) {
    const element = document.createElement(tag);
    if (text !== undefined) element.append(...whole(text));
    if (className) element.className = className;
    return element;
  }

  /** An element with a sentence of the program, whose words between backticks are code. */
  function sentence(tag, text) {
    const element = document.createElement(tag);
    element.append(...text.split(CODE).flatMap((part, place) => (place % 2 ? [make("code", part.slice(1, -1))] : whole(part))));
    return element;
  }

  return { make, sentence };
})();
