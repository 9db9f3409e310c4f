/* backend_line.c - a GPIO line through libgpiod.
 *
 * The line is requested as it is, so that a restart switches nothing; the first
 * order makes it an output that begins at the ordered value, without a moment
 * of the other one in between. */
#include "output/backend.h"

#ifdef HAVE_GPIOD

#include <errno.h>
#include <gpiod.h>
#include <stdlib.h>
#include <string.h>

struct gpio {
    struct gpiod_chip *chip;
    struct gpiod_line *line;
    bool driven; /* an output of ours by now */
};

static bool cannot(const struct output_settings *settings, const char *what,
                   struct trouble *trouble)
{
    return trouble_set(trouble, "", "line %u of %s: %s: %s", (unsigned)settings->line,
                       settings->chip, what, strerror(errno));
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
        .flags = settings->active_low ? GPIOD_LINE_REQUEST_FLAG_ACTIVE_LOW : 0,
    };
    gpio->chip = gpiod_chip_open_lookup(settings->chip);
    if (!gpio->chip) {
        return cannot(settings, "the chip cannot be opened", trouble);
    }
    gpio->line = gpiod_chip_get_line(gpio->chip, settings->line);
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

const struct backend backend_line = {
    .open = open_line, .set = set_line, .read = read_line, .close = close_line};

#else

static bool open_line(const struct output_settings *settings, void **device,
                      struct trouble *trouble)
{
    (void)device;
    return trouble_set(trouble, "", "line %u of %s: this build has no GPIO (libgpiod was missing)",
                       (unsigned)settings->line, settings->chip);
}

static enum backend_result set_line(const struct backend_call *call, int32_t value,
                                    struct trouble *trouble)
{
    (void)value;
    trouble_set(trouble, "", "line %u of %s: this build has no GPIO",
                (unsigned)call->settings->line, call->settings->chip);
    return BACKEND_FAILED;
}

const struct backend backend_line = {.open = open_line, .set = set_line};

#endif
