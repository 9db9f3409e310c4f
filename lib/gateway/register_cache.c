/* register_cache.c - a short list, searched from end to end: a house has a dozen blocks. */
#include "gateway/register_cache.h"

#include <string.h>

static bool is_same(const struct cached_block *cached, const struct pass_news *news)
{
    const struct meter_block *a = &cached->block, *b = &news->read.block;
    return cached->bus == news->bus && cached->unit == news->unit && a->table == b->table &&
           a->address == b->address && a->count == b->count;
}

static struct cached_block *place_for(struct register_cache *cache, const struct pass_news *news)
{
    struct cached_block *oldest = &cache->item[0];
    for (int k = 0; k < cache->count; k++) {
        if (is_same(&cache->item[k], news))
            return &cache->item[k];
        if (cache->item[k].at_us < oldest->at_us)
            oldest = &cache->item[k];
    }
    return cache->count < CACHED_BLOCKS_MAX ? &cache->item[cache->count++] : oldest;
}

void register_cache_keep(struct register_cache *cache, const struct pass_news *news)
{
    struct cached_block *cached = place_for(cache, news);
    cached->bus = news->bus;
    cached->unit = news->unit;
    cached->block = news->read.block;
    cached->at_us = news->at_us;
    memcpy(cached->value, news->read.value, sizeof(cached->value));
}

void register_cache_forget(struct register_cache *cache, uint8_t bus, uint8_t unit)
{
    int kept = 0;
    for (int k = 0; k < cache->count; k++)
        if (cache->item[k].bus != bus || cache->item[k].unit != unit)
            cache->item[kept++] = cache->item[k];
    cache->count = kept;
}

const uint16_t *register_cache_find(const struct register_cache *cache, uint8_t bus, uint8_t unit,
                                    struct meter_block wanted, int64_t oldest_us)
{
    const struct cached_block *found = NULL;
    for (int k = 0; k < cache->count; k++) {
        const struct cached_block *cached = &cache->item[k];
        if (cached->bus != bus || cached->unit != unit || cached->block.table != wanted.table ||
            cached->at_us < oldest_us || cached->block.address > wanted.address ||
            wanted.address + wanted.count > cached->block.address + cached->block.count)
            continue;
        if (!found || cached->at_us > found->at_us)
            found = cached;
    }
    return found ? found->value + (wanted.address - found->block.address) : NULL;
}
