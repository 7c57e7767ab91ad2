/**
 * What is said to whoever cannot see the screen change. It stands in one of two places by turns: a screen reader
 * reads what a place has newly got, so the same sentence is heard again only where it was not before.
 */
export class Saying {
  places = $state.raw<readonly [string, string]>(['', '']);
  /** Not to be followed: whatever says something would otherwise be run again by having said it. */
  #first = false;

  say(sentence: string): void {
    this.#first = !this.#first;
    this.places = this.#first ? [sentence, ''] : ['', sentence];
  }
}
