/* The whole state is one counter that steps by the golden ratio; the output is
 * that counter, mixed. So any number can seed it, zero too, and streams with
 * neighbouring seeds have nothing to do with each other. */
#include "house/prng.h"

#include <math.h>

uint64_t prng_next(struct prng *prng)
{
    uint64_t z = prng->state += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

double prng_unit(struct prng *prng)
{
    return (double)(prng_next(prng) >> 11) * 0x1.0p-53;
}

double prng_between(struct prng *prng, double least, double most)
{
    return least + (most - least) * prng_unit(prng);
}

double prng_exponential(struct prng *prng, double mean)
{
    return -mean * log(1.0 - prng_unit(prng));
}
