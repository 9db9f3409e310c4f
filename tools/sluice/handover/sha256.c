/* sha256.c - FIPS 180-4, sections 4.1.2, 4.2.2, 5.1.1, 5.3.3 and 6.2; from memory, and held
 * against sha256sum(1) by the tests. Two thousand bytes of code are less than a library of
 * ciphers on a small board, of which nothing else would be used. */
#include "sha256.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

enum { BLOCK = 64, LENGTH_BYTES = 8, WORDS = 8 };

static const uint32_t constants[BLOCK] = {
    0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
    0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
    0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
    0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
    0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
    0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
    0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
    0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2,
};

static uint32_t turned(uint32_t word, int by)
{
    return word >> by | word << (32 - by);
}

static void spread(const unsigned char block[static BLOCK], uint32_t schedule[static BLOCK])
{
    for (int t = 0; t < 16; t++)
        schedule[t] = (uint32_t)block[4 * t] << 24 | (uint32_t)block[4 * t + 1] << 16 |
                      (uint32_t)block[4 * t + 2] << 8 | block[4 * t + 3];
    for (int t = 16; t < BLOCK; t++) {
        uint32_t a = schedule[t - 15], b = schedule[t - 2];
        uint32_t small_0 = turned(a, 7) ^ turned(a, 18) ^ a >> 3;
        uint32_t small_1 = turned(b, 17) ^ turned(b, 19) ^ b >> 10;
        schedule[t] = small_1 + schedule[t - 7] + small_0 + schedule[t - 16];
    }
}

static void take_block(uint32_t hash[static WORDS], const unsigned char block[static BLOCK])
{
    uint32_t schedule[BLOCK], v[WORDS];
    spread(block, schedule);
    memcpy(v, hash, sizeof(v));
    for (int t = 0; t < BLOCK; t++) {
        uint32_t large_1 = turned(v[4], 6) ^ turned(v[4], 11) ^ turned(v[4], 25);
        uint32_t large_0 = turned(v[0], 2) ^ turned(v[0], 13) ^ turned(v[0], 22);
        uint32_t choice = (v[4] & v[5]) ^ (~v[4] & v[6]);
        uint32_t majority = (v[0] & v[1]) ^ (v[0] & v[2]) ^ (v[1] & v[2]);
        uint32_t first = v[7] + large_1 + choice + constants[t] + schedule[t];
        memmove(v + 1, v, 7 * sizeof(v[0]));
        v[4] += first;
        v[0] = first + large_0 + majority;
    }
    for (int k = 0; k < WORDS; k++)
        hash[k] += v[k];
}

/* The end: a one bit, zeros, and the length in bits, in one block or two. */
static void take_end(uint32_t hash[static WORDS], const unsigned char *rest, size_t size,
                     uint64_t bits)
{
    unsigned char end[2 * BLOCK] = {0};
    size_t length = size + 1 + LENGTH_BYTES <= BLOCK ? BLOCK : 2 * BLOCK;
    if (size > 0)
        memcpy(end, rest, size);
    end[size] = 0x80;
    for (size_t k = 0; k < LENGTH_BYTES; k++)
        end[length - 1 - k] = (unsigned char)(bits >> 8 * k);
    for (size_t at = 0; at < length; at += BLOCK)
        take_block(hash, end + at);
}

void sha256_text(const void *bytes, size_t size, char text[static SHA256_TEXT_SIZE])
{
    uint32_t hash[WORDS] = {0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a,
                            0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19};
    const unsigned char *at = bytes;
    size_t left = size;
    for (; left >= BLOCK; left -= BLOCK, at += BLOCK)
        take_block(hash, at);
    take_end(hash, at, left, (uint64_t)size * 8);
    for (int k = 0; k < WORDS; k++)
        snprintf(text + 8 * k, 9, "%08x", (unsigned)hash[k]);
}
