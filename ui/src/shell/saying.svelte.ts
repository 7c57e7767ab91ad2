/**
 * What is said to whoever cannot see the screen change. It stands in one of two places by turns: a screen reader
 * reads what a place has newly got, so the same sentence is heard again only where it was not before.
 */
export class Saying {
  places = $state.raw<readonly [string, string]>(['', '']);

  say(sentence: string): void {
    this.places = this.places[0] === '' ? [sentence, ''] : ['', sentence];
  }
}
