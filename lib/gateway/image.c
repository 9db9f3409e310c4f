/* image.c - a short list, searched from end to end: a house has a dozen blocks. */
#include "gateway/image.h"

#include <string.h>

static bool is_same(const struct image *image, const struct pass_news *news)
{
    const struct meter_block *a = &image->block, *b = &news->read.block;
    return image->bus == news->bus && image->unit == news->unit && a->table == b->table &&
           a->address == b->address && a->count == b->count;
}

static struct image *place_for(struct images *images, const struct pass_news *news)
{
    struct image *oldest = &images->item[0];
    for (int k = 0; k < images->count; k++) {
        if (is_same(&images->item[k], news))
            return &images->item[k];
        if (images->item[k].at_us < oldest->at_us)
            oldest = &images->item[k];
    }
    return images->count < IMAGES_MAX ? &images->item[images->count++] : oldest;
}

void images_keep(struct images *images, const struct pass_news *news)
{
    struct image *image = place_for(images, news);
    image->bus = news->bus;
    image->unit = news->unit;
    image->block = news->read.block;
    image->at_us = news->at_us;
    memcpy(image->value, news->read.value, sizeof(image->value));
}

void images_forget(struct images *images, uint8_t bus, uint8_t unit)
{
    int kept = 0;
    for (int k = 0; k < images->count; k++)
        if (images->item[k].bus != bus || images->item[k].unit != unit)
            images->item[kept++] = images->item[k];
    images->count = kept;
}

const uint16_t *images_find(const struct images *images, uint8_t bus, uint8_t unit,
                            struct meter_block wanted, int64_t oldest_us)
{
    const struct image *found = NULL;
    for (int k = 0; k < images->count; k++) {
        const struct image *image = &images->item[k];
        if (image->bus != bus || image->unit != unit || image->block.table != wanted.table ||
            image->at_us < oldest_us || image->block.address > wanted.address ||
            wanted.address + wanted.count > image->block.address + image->block.count)
            continue;
        if (!found || image->at_us > found->at_us)
            found = image;
    }
    return found ? found->value + (wanted.address - found->block.address) : NULL;
}
