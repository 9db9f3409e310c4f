/* kind_one_wire.c - a digital thermometer on a 1-wire line, by the kernel's file.
 *
 * The kernel (Documentation/w1/slaves/w1_therm.rst) shows two: `temperature` is a whole number
 * of thousandths of a degree; the older `w1_slave` has the part's nine bytes twice, whether
 * their check sum held, YES or NO, and t= with the same number. */
#include <math.h>
#include <string.h>

#include "sensor/kind.h"
#include "sensor/small_file.h"

/* Power-on value of the usual part, DS18B20: +85 C (its data sheet, "Memory"; from memory). */
enum { POWER_ON_MC = 85000 };

static void name(const struct sensor_settings *settings, struct text *text)
{
    text_add(text, "1-wire file %s", settings->file);
}

static void check(const struct sensor_settings *settings, setting_say *say, void *context)
{
    small_file_check(settings->file, say, context);
}

/* The number behind "t=", or the whole; NULL, with a trouble: the line was disturbed. */
static const char *number_in(const char *path, const char *text, struct trouble *trouble)
{
    const char *number = strstr(text, "t=");
    if (!strstr(text, "crc="))
        return text;
    if (number && strstr(text, "YES"))
        return number + 2;
    trouble_set(trouble, "", "%.100s: its check sum is wrong: the line was disturbed", path);
    return NULL;
}

static bool read_file(const struct sensor_settings *settings, int32_t *mc, struct trouble *trouble)
{
    char text[SMALL_FILE_MAX];
    double value;
    if (!small_file_read(settings->file, text, trouble))
        return false;
    const char *number = number_in(settings->file, text, trouble);
    if (!number || !small_file_number(settings->file, number, &value, trouble))
        return false;
    *mc = (int32_t)lround(fmax(-1e6, fmin(1e6, value)));
    return true;
}

static const struct setting_rows no_rows = {NULL, 0};

const struct sensor_kind sensor_kind_one_wire = {
    .word = "one_wire",
    .text = "a digital 1-wire thermometer, by the kernel's file",
    .rows = &no_rows,
    .needs = "file",
    .needs_text = "the file temperature of the part, under /sys/bus/w1/devices",
    .power_on_mc = POWER_ON_MC,
    .name = name,
    .check = check,
    .read = read_file};
