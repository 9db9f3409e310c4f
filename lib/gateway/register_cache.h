/* register_cache.h - registers as polls have read them: block by block, with their time. Pure. */
#ifndef SLUICE_GATEWAY_REGISTER_CACHE_H
#define SLUICE_GATEWAY_REGISTER_CACHE_H

#include "bus/pass.h"

enum { CACHED_BLOCKS_MAX = 128 };

struct cached_block {
    uint8_t bus, unit;
    struct meter_block block;
    int64_t at_us;
    uint16_t value[METER_BLOCK_REGISTERS_MAX];
};

struct register_cache {
    int count;
    struct cached_block item[CACHED_BLOCKS_MAX];
};

/* Takes the place of the same block; where there is no room, of the oldest. */
void register_cache_keep(struct register_cache *cache, const struct pass_news *news);

/* What was read before a write may be no longer so. */
void register_cache_forget(struct register_cache *cache, uint8_t bus, uint8_t unit);

/* The registers, where one block holds them all and was read at `oldest_us` or later; the
 * newest of several; else NULL. Blocks are not put together: a value could be torn. */
const uint16_t *register_cache_find(const struct register_cache *cache, uint8_t bus, uint8_t unit,
                                    struct meter_block wanted, int64_t oldest_us);

#endif
