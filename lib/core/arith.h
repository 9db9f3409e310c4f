/* arith.h - the lesser and the greater of two. */
#ifndef SLUICE_CORE_ARITH_H
#define SLUICE_CORE_ARITH_H

#include <stdint.h>

static inline int32_t minimum_32(int32_t a, int32_t b)
{
    return a < b ? a : b;
}

static inline int64_t minimum_64(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static inline int64_t maximum_64(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

static inline int64_t at_least_0(int64_t value)
{
    return value > 0 ? value : 0;
}

#endif
