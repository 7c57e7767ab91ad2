// A story is a row of steps: the first that fails ends it, since the later ones stand on it.

/** Runs `story(step)`, prints one line a step and the tally, and sets the exit code. */
export async function tell(story) {
  let passed = 0;
  let failed = 0;
  const step = async (name, act) => {
    const started = performance.now();
    try {
      const result = await act();
      passed += 1;
      console.log(`passed: ${name} (${Math.round(performance.now() - started)} ms)`);
      return result;
    } catch (error) {
      failed += 1;
      console.log(`FAILED: ${name}\n  ${String(error?.stack ?? error).replaceAll('\n', '\n  ')}`);
      throw new StoryEnds();
    }
  };
  try {
    await story(step);
  } catch (error) {
    if (!(error instanceof StoryEnds)) {
      failed += 1;
      console.log(`FAILED: outside any step\n  ${error?.stack ?? error}`);
    }
  }
  console.log(`${passed} passed, ${failed} failed`);
  process.exitCode = failed === 0 ? 0 : 1;
}

class StoryEnds extends Error {}

/** Fails with a sentence unless the condition holds. */
export function expect(condition, sentence) {
  if (!condition) throw new Error(sentence);
}

/** The value of an environment variable that the story can't do without. */
export function needed(name) {
  const value = process.env[name];
  if (!value) {
    console.log(`${name} must be set.`);
    process.exit(2);
  }
  return value;
}
