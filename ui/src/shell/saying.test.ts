import { expect, it } from 'vitest';
import { Saying } from './saying.svelte';

/** Which places a screen reader would read out: those that have got something that was not there. */
function heard(saying: Saying, sentence: string): string[] {
  const before = saying.places;
  saying.say(sentence);
  return saying.places.filter((text, place) => text !== '' && text !== before[place]);
}

it('every sentence is heard once each time it is said, the same one too', () => {
  const saying = new Saying();
  for (const sentence of ['Saved.', 'Saved.', 'Saved.', 'Sent.', 'Sent.', 'Saved.']) {
    expect(heard(saying, sentence)).toEqual([sentence]);
  }
});

it('nothing stays that was said before, to be come across later', () => {
  const saying = new Saying();
  saying.say('Saved.');
  saying.say('Sent.');
  expect(saying.places.filter((text) => text !== '')).toEqual(['Sent.']);
});
