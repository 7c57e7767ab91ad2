// What stands in the source itself instead of in the catalogue. For tests alone.
import { type AST, parse } from 'svelte/compiler';
import ts from 'typescript';

const HAS_LETTERS = /\p{Letter}{2}/u;
/** A word with a capital, and more after it: nothing that only programs read looks like this. */
const IS_SENTENCE = /^\p{Lu}[\p{Ll}’]+,? \p{L}/u;
/** Attributes, and properties of our own components, that people see or hear. */
const SPOKEN = new Set([
  'alt', 'aria-description', 'aria-label', 'aria-roledescription', 'aria-valuetext', 'hint', 'label', 'legend', 'means',
  'placeholder', 'sentence', 'submit', 'text', 'title',
]);

interface Node {
  type?: string;
  [key: string]: unknown;
}

/** Every text with letters that stands in the markup of a component, also where an expression chooses between two. */
export function inMarkup(component: string): string[] {
  const { fragment } = parse(component, { modern: true });
  return ofFragment(fragment).filter((text) => HAS_LETTERS.test(text));
}

function ofFragment(fragment: AST.Fragment): string[] {
  const found: string[] = [];
  const visit = (value: unknown, spoken: boolean): void => {
    if (Array.isArray(value)) return value.forEach((one) => visit(one, spoken));
    if (typeof value !== 'object' || value === null) return;
    const node = value as Node;
    if (node.type === 'Text') return void (spoken && found.push(String(node.data).trim()));
    if (node.type === 'ExpressionTag') return void (spoken && found.push(...values(node.expression as Node)));
    if (node.type === 'Attribute') return visit(node.value, SPOKEN.has(String(node.name)));
    if (node.type === 'StyleDirective' || node.type === 'ClassDirective') return;
    for (const [key, child] of Object.entries(node)) if (key !== 'expression') visit(child, spoken);
  };
  visit(fragment.nodes, true);
  return found;
}

/** The texts that an expression itself can come to; not those that it compares or looks up by. */
function values(node: Node): string[] {
  const inside = (...parts: unknown[]) => parts.flatMap((part) => values(part as Node));
  switch (node.type) {
    case 'Literal':
      return typeof node.value === 'string' ? [node.value] : [];
    case 'TemplateLiteral':
      return [
        ...(node.quasis as { value: { cooked: string } }[]).map(({ value }) => value.cooked),
        ...inside(...(node.expressions as Node[])),
      ];
    case 'ConditionalExpression':
      return inside(node.consequent, node.alternate);
    case 'LogicalExpression':
    case 'BinaryExpression':
      return node.type === 'LogicalExpression' || node.operator === '+' ? inside(node.left, node.right) : [];
    default:
      return [];
  }
}

/** Every sentence that stands in a script. What an error says to whoever develops is no matter. */
export function inScript(source: string): string[] {
  const file = ts.createSourceFile('script.ts', source, ts.ScriptTarget.Latest, true);
  const found: string[] = [];
  const visit = (node: ts.Node): void => {
    if (ts.isNewExpression(node) && node.expression.getText(file) === 'Error') return;
    if (ts.isStringLiteralLike(node) || ts.isTemplateHead(node)) {
      if (IS_SENTENCE.test(node.text)) found.push(node.text);
    }
    ts.forEachChild(node, visit);
  };
  visit(file);
  return found;
}

/** The scripts of a component. */
export function scriptsOf(component: string): string {
  return [...component.matchAll(/<script[^>]*>([\s\S]*?)<\/script>/g)].map(([, script]) => script).join('\n');
}
