// What the texts of a catalogue can be filled with, by the types that its source gives. For tests alone.
import ts from 'typescript';

/** By the path of an entry, such as `.week.minutes`: what each of its gaps takes. */
export type Gaps = Map<string, string[]>;

const TRIES: Record<string, readonly unknown[]> = {
  number: [0, 1, 2, 5],
  string: ['Ada', '2', 'on 4 March 2026', '1'],
  boolean: [true, false, true, false],
  'string[]': [['Ada'], ['Ada', 'Bo'], ['2'], ['one', 'two', 'three']],
};

/** Reads the catalogue that `name` is declared as. */
export function gapsOf(source: string, name: string): Gaps {
  const file = ts.createSourceFile('words.ts', source, ts.ScriptTarget.Latest, true);
  const gaps: Gaps = new Map();
  const typesOf = ({ parameters }: ts.SignatureDeclarationBase) =>
    parameters.map((one) => `${one.dotDotDotToken ? '...' : ''}${one.type?.getText(file) ?? ''}`);
  /** `promised`: what the type around a table says of each function in it. */
  const visit = (node: ts.Expression, path: string, promised: string[] = []): void => {
    if (ts.isSatisfiesExpression(node)) {
      const said = node.type.getChildren(file).flatMap((child) => child.getChildren(file)).find(ts.isFunctionTypeNode);
      return visit(node.expression, path, said && typesOf(said));
    }
    if (ts.isArrowFunction(node)) {
      return void gaps.set(path, typesOf(node).map((type, place) => type || (promised[place] ?? '')));
    }
    if (!ts.isObjectLiteralExpression(node)) return;
    for (const property of node.properties) {
      if (!ts.isPropertyAssignment(property)) continue;
      const { name } = property;
      visit(property.initializer, `${path}.${ts.isIdentifier(name) || ts.isStringLiteral(name) ? name.text : name.getText(file)}`, promised);
    }
  };
  ts.forEachChild(file, (statement) => {
    if (!ts.isVariableStatement(statement)) return;
    for (const { name: found, initializer } of statement.declarationList.declarations) {
      if (found.getText(file) === name && initializer) visit(initializer, '');
    }
  });
  return gaps;
}

/** Fills a text in several ways; the same place never gets the same twice where it takes more than two things. */
export function filled(text: (...gaps: unknown[]) => unknown, types: readonly string[]): unknown[] {
  return [0, 1, 2, 3].map((way) =>
    text(
      ...types.flatMap((type, place) => {
        const rest = type.startsWith('...');
        const tries = TRIES[rest ? type.slice(3) : type];
        if (!tries) throw new Error(`what a gap of the type ${type} takes is not known`);
        // Two gaps of one text are mostly not filled alike.
        const value = tries[(way + place) % tries.length];
        return rest ? (value as unknown[]) : [value];
      }),
    ),
  );
}
