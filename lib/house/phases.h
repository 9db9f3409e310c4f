/* phases.h - power by phase; bit 0 of a set of phases is L1. */
#ifndef SLUICE_HOUSE_PHASES_H
#define SLUICE_HOUSE_PHASES_H

#include <stdint.h>

enum { PHASES_MAX = 3 };

/* Adds `w` evenly to these phases. */
static inline void phases_share(double phase_w[PHASES_MAX], uint8_t phases, double w)
{
    double each = w / __builtin_popcount(phases);
    for (int p = 0; p < PHASES_MAX; p++)
        if (phases & (1 << p))
            phase_w[p] += each;
}

#endif
