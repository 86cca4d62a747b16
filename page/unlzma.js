// Unpacks a stream of the .lzma form (LZMA alone: a byte of properties, four of the dictionary's size, eight of the length, then the
// range coder's bytes), as `xz --format=lzma` writes it. Igor Pavlov's LZMA specification (2013, public domain) describes it.
"use strict";

function unlzma(packed) {
  const properties = packed[0];
  const [lc, lp, pb] = [properties % 9, Math.floor(properties / 9) % 5, Math.floor(properties / 45)];
  const number = (from, bytes) => Array.from({ length: bytes }, (_, k) => packed[from + k] * 2 ** (8 * k)).reduce((sum, part) => sum + part, 0);
  const length = number(5, 8);
  // A stream that does not know its length says where it ends; ours does, and nothing else is packed here.
  if (properties >= 225 || !Number.isSafeInteger(length) || length > 2 ** 30) throw new Error("not a packed engine");
  const out = new Uint8Array(length);
  // Chances of a 0 in 2048ths.
  const chances = (many) => new Uint16Array(many).fill(1024);
  const literal = chances(0x300 << (lc + lp));
  const isMatch = chances(12 << 4);
  const [isRepeat, isRepeat0, isRepeat1, isRepeat2] = [chances(12), chances(12), chances(12), chances(12)];
  const isRepeat0Long = chances(12 << 4);
  const slots = chances(4 * 64);
  const special = chances(128);
  const align = chances(16);
  const lengths = () => ({ choice: chances(2), low: chances(16 << 3), mid: chances(16 << 3), high: chances(256) });
  const [matchLengths, repeatLengths] = [lengths(), lengths()];

  let [range, code, at] = [0xffffffff, 0, 14];
  for (let k = 0; k < 4; k += 1) code = ((code << 8) | packed[at++]) >>> 0;
  const bit = (table, place) => {
    const chance = table[place];
    const bound = (range >>> 11) * chance;
    let found;
    if (code < bound) {
      range = bound;
      table[place] = chance + ((2048 - chance) >> 5);
      found = 0;
    } else {
      range -= bound;
      code -= bound;
      table[place] = chance - (chance >> 5);
      found = 1;
    }
    if (range < 0x1000000) {
      range = (range << 8) >>> 0;
      code = ((code << 8) | packed[at++]) >>> 0;
    }
    return found;
  };
  const straight = (bits) => {
    let found = 0;
    for (; bits > 0; bits -= 1) {
      range >>>= 1;
      const one = code >= range ? 1 : 0;
      if (one) code -= range;
      if (range < 0x1000000) {
        range = (range << 8) >>> 0;
        code = ((code << 8) | packed[at++]) >>> 0;
      }
      found = (found << 1) | one;
    }
    return found >>> 0;
  };
  const tree = (table, from, bits) => {
    let node = 1;
    for (let k = 0; k < bits; k += 1) node = (node << 1) | bit(table, from + node);
    return node - (1 << bits);
  };
  const backwards = (table, from, bits) => {
    let [node, found] = [1, 0];
    for (let k = 0; k < bits; k += 1) {
      const one = bit(table, from + node);
      node = (node << 1) | one;
      found |= one << k;
    }
    return found;
  };
  const lengthOf = (table, place) => {
    if (bit(table.choice, 0) === 0) return tree(table.low, place << 3, 3);
    if (bit(table.choice, 1) === 0) return 8 + tree(table.mid, place << 3, 3);
    return 16 + tree(table.high, 0, 8);
  };

  let [state, to, rep0, rep1, rep2, rep3] = [0, 0, 0, 0, 0, 0];
  while (to < length) {
    const place = to & ((1 << pb) - 1);
    if (bit(isMatch, (state << 4) + place) === 0) {
      const before = to > 0 ? out[to - 1] : 0;
      const base = 0x300 * (((to & ((1 << lp) - 1)) << lc) + (before >> (8 - lc)));
      let node = 1;
      if (state >= 7) {
        let match = out[to - rep0 - 1];
        while (node < 0x100) {
          const wanted = (match >> 7) & 1;
          match <<= 1;
          const one = bit(literal, base + ((1 + wanted) << 8) + node);
          node = (node << 1) | one;
          if (wanted !== one) break;
        }
      }
      while (node < 0x100) node = (node << 1) | bit(literal, base + node);
      out[to++] = node;
      state = state < 4 ? 0 : state < 10 ? state - 3 : state - 6;
      continue;
    }
    let many;
    if (bit(isRepeat, state) === 0) {
      [rep3, rep2, rep1] = [rep2, rep1, rep0];
      many = lengthOf(matchLengths, place);
      state = state < 7 ? 7 : 10;
      const slot = tree(slots, Math.min(many, 3) << 6, 6);
      if (slot < 4) rep0 = slot;
      else {
        const bits = (slot >> 1) - 1;
        const far = ((2 | (slot & 1)) << bits) >>> 0;
        rep0 = slot < 14 ? far + backwards(special, far - slot, bits) : far + straight(bits - 4) * 16 + backwards(align, 0, 4);
      }
    } else {
      if (bit(isRepeat0, state) === 0) {
        if (bit(isRepeat0Long, (state << 4) + place) === 0) {
          state = state < 7 ? 9 : 11;
          out[to] = out[to - rep0 - 1];
          to += 1;
          continue;
        }
      } else {
        let far;
        if (bit(isRepeat1, state) === 0) far = rep1;
        else {
          if (bit(isRepeat2, state) === 0) far = rep2;
          else [far, rep3] = [rep3, rep2];
          rep2 = rep1;
        }
        [rep1, rep0] = [rep0, far];
      }
      many = lengthOf(repeatLengths, place);
      state = state < 7 ? 8 : 11;
    }
    if (rep0 >= to) throw new Error("the packed engine is broken");
    for (let left = Math.min(many + 2, length - to); left > 0; left -= 1) {
      out[to] = out[to - rep0 - 1];
      to += 1;
    }
  }
  return out;
}
