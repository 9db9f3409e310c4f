#include "image.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

struct image *image_new(void)
{
    struct image *image = calloc(1, sizeof *image);
    ck_assert_ptr_nonnull(image);
    return image;
}

void image_put(struct image *image, uint16_t address, uint16_t word)
{
    image->word[address] = word;
    image->there[address] = true;
}

void image_put_32(struct image *image, uint16_t address, uint32_t value)
{
    image_put(image, address, (uint16_t)(value >> 16));
    image_put(image, (uint16_t)(address + 1), (uint16_t)value);
}

void image_put_float(struct image *image, uint16_t address, float value)
{
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    image_put_32(image, address, bits);
}

void image_put_string(struct image *image, uint16_t address, uint16_t registers, const char *text)
{
    size_t length = strlen(text);
    for (uint16_t i = 0; i < registers; i++) {
        unsigned char high = 2U * i < length ? (unsigned char)text[2 * i] : 0;
        unsigned char low = 2U * i + 1 < length ? (unsigned char)text[2 * i + 1] : 0;
        image_put(image, (uint16_t)(address + i), (uint16_t)(high << 8 | low));
    }
}

const uint16_t *image_read(const struct image *image, uint16_t address, uint16_t count)
{
    for (uint32_t i = address; i < (uint32_t)address + count; i++)
        if (i > 65535 || !image->there[i])
            return NULL;
    return image->word + address;
}

struct meter_sample image_sample(const struct image *image, const struct meter_map *map)
{
    struct meter_sample sample = {.has = 0};
    struct meter_plan plan;
    struct trouble trouble;
    ck_assert_msg(meter_plan_make(map, &plan, &trouble), "%s", trouble.text);
    for (uint8_t i = 0; i < plan.count; i++) {
        const struct meter_block *block = &plan.block[i];
        const uint16_t *registers = image_read(image, block->address, block->count);
        ck_assert_msg(registers != NULL, "%u registers at %u", block->count, block->address);
        meter_decode(map, block, registers, &sample);
    }
    return sample;
}

void image_walk(const struct image *image, struct sunspec_walk *walk)
{
    for (int asked = 0; walk->state == SUNSPEC_ASKING; asked++) {
        ck_assert_int_lt(asked, 1000);
        ck_assert_uint_ge(walk->count, 1);
        ck_assert_uint_le(walk->count, METER_BLOCK_REGISTERS_MAX);
        ck_assert_uint_le((uint32_t)walk->address + walk->count, 65536);
        sunspec_feed(walk, image_read(image, walk->address, walk->count));
    }
}
