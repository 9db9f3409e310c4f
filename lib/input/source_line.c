/* source_line.c - a GPIO line through libgpiod. Reading one takes microseconds; it is never
 * driven. */
#include <string.h>

#include "input/source.h"

static const struct setting_choice pulls[] = {
    {"none", INPUT_PULL_NONE, "as it is: the board or its overlay sets it"},
    {"up", INPUT_PULL_UP, "pulled up: for a contact to ground, with active_low: yes"},
    {"down", INPUT_PULL_DOWN, "pulled down: for a contact to the supply of the line"},
    {NULL, 0, NULL},
};

static const struct setting_row rows[] = {
    {.key = "chip",
     .kind = SETTING_TEXT,
     SETTING_AT(struct input_settings, chip),
     .initial = "gpiochip0",
     .text = "The GPIO chip."},
    {.key = "line",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct input_settings, line),
     .least = 0,
     .greatest = 1023,
     .initial = "",
     .example = "27",
     .text = "The line's offset on the chip, not the pin of the header."},
    {.key = "pull",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct input_settings, pull),
     .initial = "none",
     .choices = pulls,
     .text = "The line's own resistor, where it has one."},
};
static const struct setting_rows own_rows = SETTING_ROWS(rows);

static void name(const struct input_settings *settings, struct text *text)
{
    text_add(text, "line %u of %s", (unsigned)settings->line, settings->chip);
}

/* ---- the device ---------------------------------------------------------------------------- */

#ifdef HAVE_GPIOD

#include <errno.h>
#include <gpiod.h>
#include <stdlib.h>

static bool cannot(const struct input_settings *settings, const char *what, struct trouble *trouble)
{
    return trouble_set(trouble, "", "line %u of %s: %s: %s", (unsigned)settings->line,
                       settings->chip, what, strerror(errno));
}

static int flags_of(uint8_t pull)
{
    static const int flags[] = {[INPUT_PULL_NONE] = 0,
                                [INPUT_PULL_UP] = GPIOD_LINE_REQUEST_FLAG_BIAS_PULL_UP,
                                [INPUT_PULL_DOWN] = GPIOD_LINE_REQUEST_FLAG_BIAS_PULL_DOWN};
    return flags[pull];
}

static void close_line(void *device)
{
    gpiod_chip_close(gpiod_line_get_chip(device)); /* releases its lines */
}

static bool open_line(const struct input_settings *settings, void **device, struct trouble *trouble)
{
    const struct gpiod_line_request_config as_input = {
        .consumer = "sluice",
        .request_type = GPIOD_LINE_REQUEST_DIRECTION_INPUT,
        .flags = flags_of(settings->pull),
    };
    struct gpiod_chip *chip = gpiod_chip_open_lookup(settings->chip);
    if (!chip)
        return cannot(settings, "the chip cannot be opened", trouble);
    struct gpiod_line *line = gpiod_chip_get_line(chip, settings->line);
    bool opened = line && gpiod_line_request(line, &as_input, 0) == 0;
    if (!opened) {
        cannot(settings, line ? "in use or not permitted" : "the chip has no such line", trouble);
        gpiod_chip_close(chip);
        return false;
    }
    *device = line;
    return true;
}

static bool read_line(const struct input_settings *settings, void *device, bool *high,
                      struct trouble *trouble)
{
    int value = gpiod_line_get_value(device);
    *high = value > 0;
    return value >= 0 || cannot(settings, "cannot be read", trouble);
}

#define DEVICE_ROW .open = open_line, .read = read_line, .close = close_line

#else

static bool open_line(const struct input_settings *settings, void **device, struct trouble *trouble)
{
    (void)device;
    return trouble_set(trouble, "", "line %u of %s: this build has no GPIO (libgpiod was missing)",
                       (unsigned)settings->line, settings->chip);
}

#define DEVICE_ROW .open = open_line

#endif

const struct input_source input_source_line = {.word = "line",
                                               .text = "a GPIO line of this computer",
                                               .rows = &own_rows,
                                               .needs = "line",
                                               .needs_text = "its offset on the chip",
                                               .name = name,
                                               DEVICE_ROW};
