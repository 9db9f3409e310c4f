/* data_heater.c - hours and a power, from a word of the command line. */
#include "data_heater.h"

#include <stdio.h>
#include <string.h>

#include "core/hours.h"
#include "core/quantity.h"

enum status data_heater_read(const char *word, struct days_heater *heater)
{
    struct hours_span span;
    struct trouble trouble;
    int64_t power_w = 0;
    char hours[32];
    size_t length = strcspn(word, " ");
    const char *power = word + length + strspn(word + length, " ");
    snprintf(hours, sizeof(hours), "%.*s", length < sizeof(hours) ? (int)length : 0, word);
    if (!hours_span_parse(hours, &span, &trouble) || span.weekdays != WEEKDAYS_ALL)
        return complain(STATUS_USAGE,
                        "--heater-in-data \"%s\": hours and a power are expected, such as "
                        "\"22:00-06:00 3.6 kW\"",
                        word);
    if (!quantity_parse(QUANTITY_POWER_W, power, &power_w, &trouble))
        return complain(STATUS_USAGE, "--heater-in-data \"%s\": %s", word, trouble.text);
    if (power_w < 500 || power_w > 15000)
        return complain(STATUS_USAGE,
                        "--heater-in-data \"%s\": a power from 500 W to 15 kW is "
                        "expected",
                        word);
    *heater = (struct days_heater){span.from_s, span.to_s, (double)power_w};
    return STATUS_DONE;
}
