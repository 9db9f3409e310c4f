/* kind_ntc.c - a thermistor (NTC) in a voltage divider at an ADC that the kernel shows.
 *
 * The ADC's file in_voltageN_raw holds a count; (count + offset) x scale is mV, where offset
 * and scale stand beside it, for the channel or for all of them (kernel,
 * Documentation/ABI/testing/sysfs-bus-iio). The divider gives the resistance, the B-value the
 * temperature: R = R25 exp(B (1/T - 1/T25)), temperatures in kelvin (the definition of B in
 * IEC 60539-1; from memory). B holds exactly at the two temperatures that it was taken at; at
 * others it is a degree or so off. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "sensor/kind.h"
#include "sensor/small_file.h"

static const double KELVIN = 273.15, T25_K = 298.15;

/* Within this share of the supply from either end nothing is connected, or it is shorted: a
 * thermistor of any usual size is far from both between -10 and 110 C. */
static const double END_SHARE = 0.005;

static const struct setting_choice sides[] = {
    {"ground", SENSOR_TO_GROUND, "the thermistor goes to ground, the resistor to the supply"},
    {"supply", SENSOR_TO_SUPPLY, "the thermistor goes to the supply, the resistor to ground"},
    {NULL, 0, NULL},
};

static const struct setting_row rows[] = {
    {.key = "r25",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_RESISTANCE_OHM,
     SETTING_AT(struct sensor_settings, r25_ohm),
     .least = 100,
     .greatest = 1000000,
     .initial = "10 kohm",
     .text = "The thermistor's resistance at 25 °C, from its data sheet."},
    {.key = "beta",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct sensor_settings, beta_k),
     .least = 1000,
     .greatest = 10000,
     .initial = "3950",
     .text = "Its B-value in kelvin, from its data sheet; of several that for 25/85."},
    {.key = "divider",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_RESISTANCE_OHM,
     SETTING_AT(struct sensor_settings, divider_ohm),
     .least = 10,
     .greatest = 10000000,
     .initial = "10 kohm",
     .text = "The fixed resistor that it forms a divider with."},
    {.key = "supply",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_VOLTAGE_MV,
     SETTING_AT(struct sensor_settings, supply_mv),
     .least = 500,
     .greatest = 24000,
     .initial = "3.3 V",
     .text = "The voltage across the divider."},
    {.key = "to",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct sensor_settings, side),
     .initial = "ground",
     .choices = sides,
     .text = "Where the thermistor's other end goes."},
};
static const struct setting_rows own_rows = SETTING_ROWS(rows);

static void name(const struct sensor_settings *settings, struct text *text)
{
    text_add(text, "thermistor at %s", settings->file);
}

static bool ends_in_raw(const char *path)
{
    size_t length = strlen(path), end = strlen("_raw");
    return length > end && strcmp(path + length - end, "_raw") == 0;
}

static void check(const struct sensor_settings *settings, setting_say *say, void *context)
{
    if (small_file_check(settings->file, say, context) && settings->file[0] &&
        !ends_in_raw(settings->file))
        small_file_wrong("the ADC's file in_voltageN_raw", settings->file, say, context);
}

/* ---- the ADC ----------------------------------------------------------------------------------
 */

/* FOLDER/in_voltage3_raw -> FOLDER/in_voltage3_scale, or FOLDER/in_voltage_scale. */
static void beside(const char *raw, const char *what, bool of_all, char path[static SMALL_FILE_MAX])
{
    const char *slash = strrchr(raw, '/'), *file = slash ? slash + 1 : raw;
    size_t stem = strlen(file) - strlen("raw"), channel = strcspn(file, "0123456789");
    size_t word = !of_all ? stem : channel < stem ? channel : stem - 1;
    snprintf(path, SMALL_FILE_MAX, "%.*s%.*s%s%s", (int)(file - raw), raw, (int)word, file,
             of_all ? "_" : "", what);
}

/* False: there is none, or it cannot be read. */
static bool read_beside(const char *raw, const char *what, double *value, struct trouble *trouble)
{
    char path[SMALL_FILE_MAX], text[SMALL_FILE_MAX];
    beside(raw, what, false, path);
    if (access(path, F_OK) != 0)
        beside(raw, what, true, path);
    return small_file_read(path, text, trouble) && small_file_number(path, text, value, trouble);
}

static bool read_mv(const char *path, double *mv, struct trouble *trouble)
{
    char text[SMALL_FILE_MAX];
    double raw, scale, offset = 0;
    struct trouble none;
    if (!ends_in_raw(path))
        return trouble_set(trouble, "", "%.100s: expected a file such as in_voltage0_raw", path);
    if (!small_file_read(path, text, trouble) || !small_file_number(path, text, &raw, trouble) ||
        !read_beside(path, "scale", &scale, trouble))
        return false;
    if (!read_beside(path, "offset", &offset, &none))
        offset = 0; /* most have none */
    *mv = (raw + offset) * scale;
    return true;
}

/* ---- the divider ------------------------------------------------------------------------------
 */

static double ohm_of(const struct sensor_settings *settings, double mv)
{
    double other = settings->supply_mv - mv;
    return settings->side == SENSOR_TO_GROUND ? settings->divider_ohm * mv / other
                                              : settings->divider_ohm * other / mv;
}

static double celsius_of(const struct sensor_settings *settings, double ohm)
{
    return 1 / (1 / T25_K + log(ohm / settings->r25_ohm) / settings->beta_k) - KELVIN;
}

static bool read_file(const struct sensor_settings *settings, int32_t *mc, struct trouble *trouble)
{
    double mv;
    if (!read_mv(settings->file, &mv, trouble))
        return false;
    double share = mv / settings->supply_mv;
    if (!(share > END_SHARE && share < 1 - END_SHARE))
        return trouble_set(trouble, "", "%.0f mV of %d mV: possible cut or shorted wire", mv,
                           (int)settings->supply_mv);
    *mc = (int32_t)lround(celsius_of(settings, ohm_of(settings, mv)) * 1000);
    return true;
}

const struct sensor_kind sensor_kind_ntc = {
    .word = "ntc",
    .text = "a thermistor in a voltage divider, by the ADC's file",
    .rows = &own_rows,
    .needs = "file",
    .needs_text = "the ADC's file, such as /sys/bus/iio/devices/iio:device0/in_voltage0_raw",
    .name = name,
    .check = check,
    .read = read_file};
