/* chip.c - the few functions of libgpiod (1.6) that inputs call, on a chip in memory. They are
 * taken before the library's own. */
#include "chip.h"

#include <errno.h>
#include <gpiod.h>
#include <stdint.h>
#include <string.h>

struct chip chip;

struct gpiod_chip *gpiod_chip_open_lookup(const char *name)
{
    if (strcmp(name, "gpiochip0") != 0) {
        errno = ENOENT;
        return NULL;
    }
    chip.open++;
    return (struct gpiod_chip *)&chip;
}

void gpiod_chip_close(struct gpiod_chip *of)
{
    (void)of;
    chip.open--;
}

struct gpiod_line *gpiod_chip_get_line(struct gpiod_chip *of, unsigned int offset)
{
    (void)of;
    errno = EINVAL;
    return offset < CHIP_LINES ? (struct gpiod_line *)&chip.level[offset] : NULL;
}

static int offset_of(struct gpiod_line *line)
{
    return (int)((int *)(void *)line - chip.level);
}

struct gpiod_chip *gpiod_line_get_chip(struct gpiod_line *line)
{
    (void)line;
    return (struct gpiod_chip *)&chip;
}

int gpiod_line_request(struct gpiod_line *line, const struct gpiod_line_request_config *config,
                       int default_val)
{
    (void)default_val;
    chip.as_output |= config->request_type != GPIOD_LINE_REQUEST_DIRECTION_INPUT;
    chip.flags[offset_of(line)] = config->flags;
    chip.requested[offset_of(line)] = true;
    return 0;
}

int gpiod_line_get_value(struct gpiod_line *line)
{
    errno = EIO;
    return chip.level[offset_of(line)];
}
