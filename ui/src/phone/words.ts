import { enGB } from '../words/en-GB';
import { pseudo } from '../words/pseudo';
import { words } from '../words/words';

const inEnglish = {
  /** Said at both ends. */
  caution: {
    title: 'On home Wi-Fi only',
    learns: 'Somebody who listens on the network learns how much is sent, and when, and nothing else.',
    notStopped: 'Somebody who changes the page on its way to the phone is not stopped.',
    elsewhere: 'On a network that is not yours, send a file instead, or bring the photograph over by cable.',
  },

  page: {
    title: 'Photograph a page',
    opening: 'Opening…',
    of: (name: string) => `For ${name}`,
    which: 'Which task is the page for?',
    until: (time: string) => `This page stays open until about ${time}.`,
    sending: (percent: number) => `Sending the photograph: ${percent} %`,
    progress: 'How much of the photograph is sent',
    checking: 'Is the computer still there?',
    kept: 'Thank you. The page is kept on the computer.',
    keptHow: 'Nothing of it stays on this phone but what its camera keeps. From a family’s computer it goes to the tutor by itself, once both are on.',
    next: 'Photograph another page',
    done: 'That is all. You can close this page now.',
    turnedAway: (n: number) =>
      `${n === 1 ? 'Another phone has tried to use your code and was' : `Other phones have tried to use your code ${n} times and were`} turned away. If it was nobody at your place, press Stop on the computer.`,
    lost: 'The computer does not answer.',
    lostWhy: 'Is the phone still on the same Wi-Fi, and is the computer awake? It may also have been stopped there.',
    photoSafe: 'The photograph is not lost.',
    keepSafe: 'If the page was kept already, it is not kept twice.',
    busy: 'The computer is busy with something else.',
    busyWhy: 'Wait a moment, and try again.',
    tooLarge: 'This file is larger than any photograph of a page.',
    tooLargeWhy: 'Choose the photograph itself, in the ordinary camera setting.',
    unread: 'This photograph could not be opened on the phone.',
    unreadWhy: 'Choose or take it again.',
  },

  ended: {
    expired: 'The time is up',
    expiredWhy: 'What was kept is safe on the computer. To go on, show a new code there and scan it.',
    used: 'This code has been used',
    usedWhy:
      'A code works for one phone. If that was you in another window, go back to it; else show a new code on the computer.',
    wrong: 'This code is not right any more',
    wrongWhy: 'Show a new code on the computer, and scan it.',
    none: 'Open this page by the code',
    noneWhy: 'Show the code on the computer, and scan it with the camera of this phone.',
  },

  panel: {
    byPhone: 'Take the photograph with another phone',
    title: 'Photograph with a phone, without the program on it',
    means:
      'The phone scans a code that this computer shows, takes a photograph, and the page comes here. The phone must be on the same Wi-Fi.',
    where: 'Which network is the phone on?',
    at: (network: string, address: string) => `${network}: ${address}`,
    again: 'Look for networks again',
    noNetwork: 'This computer is on no home network at the moment. Connect it to the Wi-Fi that the phone is on.',
    show: 'Show a code for a phone',
    another: 'Show a new code',
    scan: 'Scan this with the camera of the phone',
    qr: 'The address of the page as a square picture',
    orType: 'Or type this address on the phone:',
    once: 'It works for one phone, once.',
    until: (time: string) => `It is open until about ${time}.`,
    inUse: 'A phone has opened the page.',
    pages: (n: number) => `Pages that have come in: ${n}.`,
    turnedAway: (n: number) =>
      `${n === 1 ? 'Another phone has tried to use the code and was' : `Other phones have tried to use the code ${n} times and were`} turned away. If it was nobody of yours, press Stop.`,
    cannot: 'If the phone cannot open the page: is it on the same Wi-Fi, and not on one for guests? A firewall on this computer may also be in the way.',
    otherPupil: 'The code shown now is for another pupil. A new one takes its place.',
    stop: 'Stop',
    expired: 'The time was up, and the page is closed.',
    wrongKeys: 'Somebody tried too often with a wrong key, and the page is closed. Nothing was shown to them.',
  },
};

export type PhoneWords = typeof inEnglish;

/** What the page on a phone says, and the panel that opens it; chosen as the other words are. */
export const phoneWords: PhoneWords = words === enGB ? inEnglish : pseudo(inEnglish);
