/* prng.h - chance that repeats.
 *
 * SplitMix64: G. Steele, D. Lea, C. Flood, "Fast Splittable Pseudorandom Number
 * Generators", OOPSLA 2014. The same seed gives the same house and the same day
 * on every machine. */
#ifndef SLUICE_HOUSE_PRNG_H
#define SLUICE_HOUSE_PRNG_H

#include <stdint.h>

struct prng {
    uint64_t state;
};

uint64_t prng_next(struct prng *prng);
double prng_unit(struct prng *prng); /* 0 <= x < 1 */
double prng_between(struct prng *prng, double least, double most);
double prng_exponential(struct prng *prng, double mean);

#endif
