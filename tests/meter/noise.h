/* noise.h - chance from a fixed seed: xorshift64 (G. Marsaglia, 2003). */
#ifndef SLUICE_TESTS_METER_NOISE_H
#define SLUICE_TESTS_METER_NOISE_H

#include <stdint.h>

static inline uint64_t noise(uint64_t *state)
{
    *state ^= *state << 13;
    *state ^= *state >> 7;
    return *state ^= *state << 17;
}

/* 0 .. below - 1 */
static inline uint32_t noise_below(uint64_t *state, uint32_t below)
{
    return (uint32_t)((noise(state) >> 16) % below);
}

#endif
