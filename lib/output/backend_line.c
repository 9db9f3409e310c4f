/* backend_line.c - a GPIO line through libgpiod.
 *
 * The line is requested as it is, so that a restart switches nothing; the first
 * order makes it an output that begins at the ordered value, without a moment
 * of the other one in between. */
#include <string.h>

#include "output/backend.h"

struct BACKEND_OWN line_settings {
    char chip[64];
    uint32_t line;
    bool active_low;
};

static const struct setting_row rows[] = {
    {.key = "chip",
     .kind = SETTING_TEXT,
     BACKEND_OWN_AT(struct line_settings, chip),
     .initial = "gpiochip0",
     .text = "The GPIO chip."},
    {.key = "line",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     BACKEND_OWN_AT(struct line_settings, line),
     .least = 0,
     .greatest = 1023,
     .initial = "",
     .example = "17",
     .text = "The line's offset on the chip, not the pin of the header."},
    {.key = "active_low",
     .kind = SETTING_YES_NO,
     BACKEND_OWN_AT(struct line_settings, active_low),
     .initial = "no",
     .text = "A low level switches on, as on many relay modules."},
};
static const struct setting_rows own_rows = SETTING_ROWS(rows);

static const struct line_settings *own(const struct output_settings *settings)
{
    return (const void *)settings->own;
}

static void name(const struct output_settings *settings, uint8_t contactor, struct text *name)
{
    (void)contactor;
    text_add(name, "line %u of %s", (unsigned)own(settings)->line, own(settings)->chip);
}

static void describe(const struct output_settings *settings, struct text *text)
{
    name(settings, 0, text);
    text_add(text, "%s", own(settings)->active_low ? ", low is on" : "");
}

static bool same_place(const struct output_settings *a, const struct output_settings *b)
{
    return strcmp(own(a)->chip, own(b)->chip) == 0 && own(a)->line == own(b)->line;
}

static bool reads_back(const struct output_settings *settings)
{
    (void)settings;
    return true;
}

/* ---- the device ---------------------------------------------------------------------------- */

#ifdef HAVE_GPIOD

#include <errno.h>
#include <gpiod.h>
#include <stdlib.h>

struct gpio {
    struct gpiod_chip *chip;
    struct gpiod_line *line;
    bool driven; /* an output of ours by now */
};

static bool cannot(const struct output_settings *settings, const char *what,
                   struct trouble *trouble)
{
    return trouble_set(trouble, "", "line %u of %s: %s: %s", (unsigned)own(settings)->line,
                       own(settings)->chip, what, strerror(errno));
}

static void close_line(void *device)
{
    struct gpio *gpio = device;
    if (gpio->chip) {
        gpiod_chip_close(gpio->chip); /* releases its lines */
    }
    free(gpio);
}

static bool request(struct gpio *gpio, const struct output_settings *settings,
                    struct trouble *trouble)
{
    const struct gpiod_line_request_config as_it_is = {
        .consumer = "sluice",
        .request_type = GPIOD_LINE_REQUEST_DIRECTION_AS_IS,
        .flags = own(settings)->active_low ? GPIOD_LINE_REQUEST_FLAG_ACTIVE_LOW : 0,
    };
    gpio->chip = gpiod_chip_open_lookup(own(settings)->chip);
    if (!gpio->chip) {
        return cannot(settings, "the chip cannot be opened", trouble);
    }
    gpio->line = gpiod_chip_get_line(gpio->chip, own(settings)->line);
    if (!gpio->line) {
        return cannot(settings, "the chip has no such line", trouble);
    }
    if (gpiod_line_request(gpio->line, &as_it_is, 0) != 0) {
        return cannot(settings, "in use or not permitted", trouble);
    }
    return true;
}

static bool open_line(const struct output_settings *settings, void **device,
                      struct trouble *trouble)
{
    struct gpio *gpio = calloc(1, sizeof *gpio);
    if (!gpio) {
        return trouble_set(trouble, "", "no memory for a line");
    }
    if (!request(gpio, settings, trouble)) {
        close_line(gpio);
        return false;
    }
    *device = gpio;
    return true;
}

static enum backend_result set_line(const struct backend_call *call, int32_t value,
                                    struct trouble *trouble)
{
    struct gpio *gpio = call->device;
    if (!gpio) {
        cannot(call->settings, "is not open", trouble);
        return BACKEND_FAILED;
    }
    int failed = gpio->driven ? gpiod_line_set_value(gpio->line, value)
                              : gpiod_line_set_direction_output(gpio->line, value);
    if (failed) {
        cannot(call->settings, "cannot be set", trouble);
        return BACKEND_FAILED;
    }
    gpio->driven = true;
    return BACKEND_DONE;
}

static enum backend_result read_line(const struct backend_call *call, int32_t *value,
                                     struct trouble *trouble)
{
    const struct gpio *gpio = call->device;
    if (!gpio) {
        cannot(call->settings, "is not open", trouble);
        return BACKEND_FAILED;
    }
    *value = gpiod_line_get_value(gpio->line);
    if (*value < 0) {
        cannot(call->settings, "cannot be read", trouble);
        return BACKEND_FAILED;
    }
    return BACKEND_DONE;
}

#define DEVICE_ROW .open = open_line, .set = set_line, .read = read_line, .close = close_line

#else

static bool open_line(const struct output_settings *settings, void **device,
                      struct trouble *trouble)
{
    (void)device;
    return trouble_set(trouble, "", "line %u of %s: this build has no GPIO (libgpiod was missing)",
                       (unsigned)own(settings)->line, own(settings)->chip);
}

static enum backend_result set_line(const struct backend_call *call, int32_t value,
                                    struct trouble *trouble)
{
    (void)value;
    trouble_set(trouble, "", "line %u of %s: this build has no GPIO",
                (unsigned)own(call->settings)->line, own(call->settings)->chip);
    return BACKEND_FAILED;
}

#define DEVICE_ROW .open = open_line, .set = set_line

#endif

const struct backend backend_line = {.word = "line",
                                     .text = "a GPIO line of this computer",
                                     .rows = {&own_rows},
                                     .needs = "line",
                                     .needs_text = "its offset on the chip",
                                     .name = name,
                                     .describe = describe,
                                     .same_place = same_place,
                                     .reads_back = reads_back,
                                     DEVICE_ROW};
