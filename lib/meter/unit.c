/* unit.c - "0.01 kWh": the unit of a map file as an exact fraction.
 *
 * Makers count in tenths of a watt and hundredths of a kilowatt-hour. The
 * factor's digits over a power of ten, times what the unit holds, is the
 * fraction; nothing is rounded. */
#include <string.h>

#include "core/text.h"
#include "meter.h"
#include "meter/quantity_row.h"

enum { FACTOR_DIGITS_MAX = 9 };

/* Digits with at most one point, not zero; an empty factor is 1. */
static bool read_factor(const char *text, size_t length, int64_t *num, int64_t *den)
{
    size_t digits = 0;
    bool point = false;
    *num = length == 0;
    *den = 1;
    for (size_t i = 0; i < length; i++) {
        if (text[i] == '.' && !point && digits > 0 && i + 1 < length) {
            point = true;
            continue;
        }
        if (text[i] == '.' || ++digits > FACTOR_DIGITS_MAX)
            return false;
        *num = *num * 10 + (text[i] - '0');
        *den *= point ? 10 : 1;
    }
    return *num > 0;
}

static const struct meter_unit *find_unit(const struct meter_quantity_row *row, const char *name)
{
    for (const struct meter_unit *unit = row->units; unit->name; unit++)
        if (strcmp(unit->name, name) == 0)
            return unit;
    return NULL;
}

static void reduce(int64_t *num, int64_t *den)
{
    static const int64_t primes[] = {2, 5}; /* nothing else divides a power of ten */
    for (size_t i = 0; i < 2; i++)
        while (*num % primes[i] == 0 && *den % primes[i] == 0) {
            *num /= primes[i];
            *den /= primes[i];
        }
}

bool meter_unit_parse(enum meter_quantity quantity, const char *text, int64_t *num, int64_t *den,
                      struct trouble *trouble)
{
    const struct meter_quantity_row *row = meter_quantity_row(quantity);
    char quoted[TEXT_SHORT_SIZE];
    size_t factor = strspn(text, "0123456789.");
    const char *name = text + factor + strspn(text + factor, " ");
    const struct meter_unit *unit = find_unit(row, name);
    if (!unit)
        return trouble_set(trouble, "",
                           "\"%s\" is no unit of %s: expected %s, with a decimal factor before it "
                           "where the register counts in parts of it, such as \"0.01 kWh\"",
                           text_shorten(quoted, text), row->word, row->unit_names);
    if (!read_factor(text, factor, num, den))
        return trouble_set(trouble, "",
                           "\"%s\": the factor before %s must be a number greater than 0 of at "
                           "most %d digits, such as 0.01",
                           text_shorten(quoted, text), unit->name, FACTOR_DIGITS_MAX);
    *num *= unit->holds;
    reduce(num, den);
    return true;
}
