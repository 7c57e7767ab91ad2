/** Texts for a task, ready to use: plain sentences, line by line, with most letters of the alphabet in each. */
export const READY_TEXTS = {
  short: {
    hens: 'Five brown hens dig up the\ngarden. A quick jay watches\nfrom the wooden box.',
    kite: 'We flew our kite over the\nfrozen quay. Six puppies\njumped up at its bright bow.',
    soup: 'Grandma cooks leek soup on\nSundays. She adds a pinch of\nsalt, then a lazy squeeze of\njuice from half a lemon.',
    bus: 'The next bus waits by the\npark gate. Jackdaws quarrel\nover half a crisp.',
  },
  medium: {
    pond:
      'Behind the mill lies a quiet\npond. In spring the frogs come\nback and sing all night. My\nuncle gave me a jar, a net and\n' +
      'an extra torch. We looked for\nnewts, counted twelve, and let\nevery one of them go.',
    market:
      'On Fridays the square is full\nof stalls. A man juggles six\noranges while his dog begs for\na biscuit. We buy plums, crusty\n' +
      'bread and a piece of yellow\ncheese, and then walk home the\nvery long way round.',
    storm:
      'The wind woke me just before\nsix. Rain drummed on the roof\nand a shutter banged. Puzzled,\nour old cat crept under the\n' +
      'quilt. By breakfast the sky was\nclear, and the lane was covered\nwith leaves and bits of twig.',
    train:
      'The small train puffs up to the\nhilltop in half an hour. From\nmy window I can see boats, six\ncows, a ruined tower and, on\n' +
      'clear days, the blue edge of\nthe sea. The boy next to me\nis quietly counting bridges.',
  },
};
