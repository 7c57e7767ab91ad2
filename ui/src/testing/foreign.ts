import { CLOSING, OPENING } from '../words/pseudo';

/** Attributes that people hear or see. */
const SPOKEN = ['aria-label', 'aria-description', 'aria-roledescription', 'aria-valuetext', 'alt', 'placeholder', 'title'];
/** Days are written by rules of their own. */
const DAY = /\b\d{1,2} [A-Z][a-z]+( \d{4})?\b/gu;

/**
 * Texts below `root` that did not come through the catalogue, given that it is the pseudo one. `data` is what people
 * have typed: names, sentences, texts to write.
 */
export function foreignIn(root: Element, data: readonly string[]): string[] {
  const found: string[] = [];
  const look = (text: string) => {
    const rest = data.reduce((left, known) => left.replaceAll(known, ''), outside(text)).replaceAll(DAY, '');
    if (/\p{Letter}/u.test(rest)) found.push(text.trim());
  };
  const visit = (node: Node) => {
    if (node.nodeType === Node.TEXT_NODE) look(node.textContent ?? '');
    if (node instanceof Element) for (const name of SPOKEN) look(node.getAttribute(name) ?? '');
    node.childNodes.forEach(visit);
  };
  visit(root);
  return found;
}

/** What stands outside all brackets. */
function outside(text: string): string {
  let depth = 0;
  let left = '';
  for (const sign of text) {
    if (sign === OPENING) depth += 1;
    else if (sign === CLOSING) depth -= 1;
    else if (depth === 0) left += sign;
  }
  return left;
}
