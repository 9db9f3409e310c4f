/* image.h - registers as polls have read them: one image a block, with its time. Pure. */
#ifndef SLUICE_GATEWAY_IMAGE_H
#define SLUICE_GATEWAY_IMAGE_H

#include "bus/pass.h"

enum { IMAGES_MAX = 128 };

struct image {
    uint8_t bus, unit;
    struct meter_block block;
    int64_t at_us;
    uint16_t value[METER_BLOCK_REGISTERS_MAX];
};

struct images {
    int count;
    struct image item[IMAGES_MAX];
};

/* Takes the place of the image of the same block; where there is no room, of the oldest. */
void images_keep(struct images *images, const struct pass_news *news);

/* What was read before a write may be no longer so. */
void images_forget(struct images *images, uint8_t bus, uint8_t unit);

/* The registers, where one block holds them all and was read at `oldest_us` or later; the
 * newest of several; else NULL. Blocks are not put together: a value could be torn. */
const uint16_t *images_find(const struct images *images, uint8_t bus, uint8_t unit,
                            struct meter_block wanted, int64_t oldest_us);

#endif
