/* quantity.c - quantities and their text.
 *
 * A kind of quantity is a row, and so is each of its units: how many of the inside
 * unit it holds. Reading is decimal arithmetic on whole numbers: "3.6" is 36 with
 * one decimal place, and a kW is 1000 W, so 36 * 1000 / 10. If that does not
 * come out even, the text says more than can be kept, which is an error; so is
 * what does not fit 64 bits.
 *
 * Time of the day has no unit but a form of its own, and a count has none. */
#include "quantity.h"

#include <inttypes.h>
#include <string.h>
#include <strings.h>

enum { UNITS_MAX = 6, MS_OF_S = 1000, QUANTITY_KINDS = QUANTITY_COUNT + 1 };

enum use {
    READ,    /* understood, but never written */
    WRITTEN, /* for what is at least one of it, and the smallest for anything less */
    ZERO,    /* written for nothing at all too */
};

struct unit {
    const char *name;
    int64_t holds; /* of the inside unit */
    enum use use;
};

struct kind {
    const char *noun, *expected, *finest;
    bool signs;                  /* may be negative */
    bool sums;                   /* "2 h 30 min" */
    int decimals;                /* at least so many are written */
    struct unit unit[UNITS_MAX]; /* largest first */
};

#define NOUN(what, example) .noun = what, .expected = what ", such as " example

static const struct kind kinds[QUANTITY_KINDS] = {
    [QUANTITY_POWER_W] = {NOUN("a power", "3.6 kW"), .finest = "1 W", .signs = true,
                          .unit = {{"MW", 1000000, READ},
                                   {"kW", 1000, WRITTEN},
                                   {"kWp", 1000, READ}, /* of solar panels */
                                   {"W", 1, WRITTEN},
                                   {"Wp", 1, READ}}},
    [QUANTITY_ENERGY_MWH] = {NOUN("an energy", "6 kWh"), .finest = "0.001 Wh", .signs = true,
                             .unit = {{"MWh", 1000000000, READ},
                                      {"kWh", 1000000, WRITTEN},
                                      {"Wh", 1000, WRITTEN}}},
    [QUANTITY_DURATION_MS] = {NOUN("a duration", "2 h 30 min"), .finest = "1 ms", .sums = true,
                              .unit = {{"d", 86400000, WRITTEN},
                                       {"h", 3600000, WRITTEN},
                                       {"min", 60000, WRITTEN},
                                       {"s", 1000, ZERO},
                                       {"ms", 1, WRITTEN}}},
    [QUANTITY_TIME_S] = {NOUN("a time of day", "17:00"), .finest = "1 s"},
    [QUANTITY_SHARE_PERMILLE] = {NOUN("a share", "80 %"), .finest = "0.1 %",
                                 .unit = {{"%", 10, WRITTEN}}},
    [QUANTITY_CURRENT_MA] = {NOUN("a current", "16 A"), .finest = "1 mA",
                             .unit = {{"A", 1000, ZERO}, {"mA", 1, WRITTEN}}},
    [QUANTITY_VOLTAGE_MV] = {NOUN("a voltage", "230 V"), .finest = "1 mV",
                             .unit = {{"kV", 1000000, READ},
                                      {"V", 1000, ZERO},
                                      {"mV", 1, WRITTEN}}},
    [QUANTITY_PRICE_MICRO] = {NOUN("a price of energy", "0.30 /kWh"), .finest = "0.000001 /kWh",
                              .signs = true, .decimals = 2, .unit = {{"/kWh", 1000000, WRITTEN}}},
    [QUANTITY_DAILY_MICRO] = {NOUN("a daily charge", "1.10 /day"), .finest = "0.000001 /day",
                              .decimals = 2, .unit = {{"/day", 1000000, WRITTEN}}},
    [QUANTITY_DEMAND_MICRO] = {NOUN("a demand charge", "12.50 /kW"), .finest = "0.000001 /kW",
                               .decimals = 2, .unit = {{"/kW", 1000000, WRITTEN}}},
    [QUANTITY_TEMPERATURE_MC] = {NOUN("a temperature", "60 °C"), .finest = "0.001 °C",
                                 .signs = true, .unit = {{"°C", 1000, WRITTEN}, {"C", 1000, READ}}},
    [QUANTITY_VOLUME_ML] =
        {NOUN("a volume", "250 L"), .finest = "1 mL",
         .unit = {{"L", 1000, ZERO}, {"l", 1000, READ}, {"mL", 1, WRITTEN}, {"ml", 1, READ}}},
    [QUANTITY_RESISTANCE_OHM] = {NOUN("a resistance", "10 kohm"), .finest = "1 ohm",
                                 .unit = {{"Mohm", 1000000, READ},
                                          {"kohm", 1000, WRITTEN},
                                          {"kΩ", 1000, READ},
                                          {"ohm", 1, WRITTEN},
                                          {"Ω", 1, READ}}},
    [QUANTITY_COUNT] = {NOUN("a whole number", "4"), .finest = "1", .signs = true,
                        .unit = {{"", 1, WRITTEN}}},
};

const char *quantity_expected(enum quantity_kind kind)
{
    return kinds[kind].expected;
}

/* ---- reading ------------------------------------------------------------------ */

enum verdict {
    GOOD,
    EMPTY,
    NO_NUMBER,
    COMMA,
    NO_UNIT,
    UNKNOWN_UNIT,
    UNIT_ORDER,
    NEGATIVE,
    TOO_LARGE,
    TOO_FINE,
    LEFT_OVER,
};

/* A decimal number: digits / 10^places. */
struct decimal {
    int64_t digits;
    int places;
};

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static void skip_blanks(const char **at)
{
    *at += strspn(*at, " ");
}

static bool add_digit(int64_t *value, char digit)
{
    return !__builtin_mul_overflow(*value, 10, value) &&
           !__builtin_add_overflow(*value, digit - '0', value);
}

static enum verdict read_decimal(const char **at, struct decimal *decimal)
{
    *decimal = (struct decimal){0};
    if (!is_digit(**at))
        return NO_NUMBER;
    for (; is_digit(**at); ++*at)
        if (!add_digit(&decimal->digits, **at))
            return TOO_LARGE;
    if (**at == ',')
        return COMMA;
    if (**at != '.')
        return GOOD;
    const char *from = ++*at, *end = from + strspn(from, "0123456789");
    *at = end;
    if (end == from)
        return NO_NUMBER;
    while (end > from && end[-1] == '0')
        end--;
    for (; from < end; from++, decimal->places++)
        if (!add_digit(&decimal->digits, *from))
            return TOO_FINE;
    return GOOD;
}

/* The word up to a blank, a digit or the end. */
static const struct unit *read_unit(const struct kind *kind, const char **at)
{
    skip_blanks(at);
    size_t length = strcspn(*at, " 0123456789");
    for (int i = 0; i < UNITS_MAX && kind->unit[i].name; i++)
        if (strlen(kind->unit[i].name) == length && strncmp(*at, kind->unit[i].name, length) == 0) {
            *at += length;
            return &kind->unit[i];
        }
    return NULL;
}

/* Divides `a` by the prime if it can, else `b`. */
static bool divide_either(int64_t *a, int64_t *b, int64_t prime)
{
    int64_t *which = *a % prime == 0 ? a : b;
    if (*which % prime != 0)
        return false;
    *which /= prime;
    return true;
}

/* digits * holds / 10^places, if it is a whole number: the tens are taken out,
 * prime by prime, before the product is made, so that it cannot pass 64 bits
 * unless the result does. */
static enum verdict scale(struct decimal decimal, int64_t holds, int64_t *value)
{
    for (; decimal.places > 0; decimal.places--)
        if (!divide_either(&holds, &decimal.digits, 2) ||
            !divide_either(&holds, &decimal.digits, 5))
            return TOO_FINE;
    return __builtin_mul_overflow(decimal.digits, holds, value) ? TOO_LARGE : GOOD;
}

/* One "30 min"; units of a sum come largest first. */
static enum verdict read_part(const struct kind *kind, const char **at, const struct unit **last,
                              int64_t *sum)
{
    struct decimal decimal;
    int64_t value;
    enum verdict verdict = read_decimal(at, &decimal);
    if (verdict != GOOD)
        return verdict;
    const struct unit *unit = read_unit(kind, at);
    if (!unit)
        return **at == '\0' ? NO_UNIT : UNKNOWN_UNIT;
    if (*last && unit <= *last)
        return UNIT_ORDER;
    *last = unit;
    verdict = scale(decimal, unit->holds, &value);
    if (verdict == GOOD && __builtin_add_overflow(*sum, value, sum))
        return TOO_LARGE;
    return verdict;
}

static enum verdict read_with_units(const struct kind *kind, const char **at, int64_t *value)
{
    const struct unit *last = NULL;
    bool negative = **at == '-' && is_digit((*at)[1]);
    *value = 0;
    *at += negative;
    do {
        enum verdict verdict = read_part(kind, at, &last, value);
        if (verdict != GOOD)
            return verdict;
        skip_blanks(at);
    } while (kind->sums && is_digit(**at));
    if (negative && !kind->signs)
        return NEGATIVE;
    if (negative)
        *value = -*value;
    return **at == '\0' ? GOOD : LEFT_OVER;
}

static bool read_two_digits(const char **at, int64_t most, int64_t *value)
{
    if (!is_digit((*at)[0]) || !is_digit((*at)[1]))
        return false;
    *value = ((*at)[0] - '0') * 10 + ((*at)[1] - '0');
    *at += 2;
    return *value <= most;
}

/* "6:30", "17:00", "17:00:30"; "24:00" is the day's end. */
static enum verdict read_time(const char **at, int64_t *value)
{
    int64_t hours = **at - '0', minutes, seconds = 0;
    bool one_digit = is_digit((*at)[0]) && (*at)[1] == ':';
    if (one_digit)
        ++*at;
    else if (!read_two_digits(at, 24, &hours))
        return NO_NUMBER;
    if (*(*at)++ != ':' || !read_two_digits(at, 59, &minutes))
        return NO_NUMBER;
    if (**at == ':') {
        ++*at;
        if (!read_two_digits(at, 59, &seconds))
            return NO_NUMBER;
    }
    *value = hours * 3600 + minutes * 60 + seconds;
    skip_blanks(at);
    return **at == '\0' && *value <= 86400 ? GOOD : NO_NUMBER;
}

/* `at` is left where reading stopped. */
static enum verdict read_quantity(enum quantity_kind kind, const char *text, const char **at,
                                  int64_t *value)
{
    *at = text;
    skip_blanks(at);
    if (**at == '\0')
        return EMPTY;
    return kind == QUANTITY_TIME_S ? read_time(at, value)
                                   : read_with_units(&kinds[kind], at, value);
}

/* ---- saying what is wrong ------------------------------------------------------- */

/* What another kind would make of it: "a duration", or NULL. */
static const char *read_as_other(enum quantity_kind kind, const char *text)
{
    const char *at;
    int64_t value;
    for (int other = 0; other < QUANTITY_KINDS; other++)
        if ((enum quantity_kind)other != kind &&
            read_quantity((enum quantity_kind)other, text, &at, &value) == GOOD)
            return kinds[other].noun;
    return NULL;
}

/* "W" is written so: upper and lower case count, as mW is not MW. */
static const char *unit_in_other_case(const struct kind *kind, const char *word)
{
    for (int i = 0; i < UNITS_MAX && kind->unit[i].name; i++)
        if (kind->unit[i].name[0] && strcasecmp(kind->unit[i].name, word) == 0)
            return kind->unit[i].name;
    return NULL;
}

static bool say_unit(const struct kind *kind, const char *quoted, const char *at,
                     struct trouble *trouble)
{
    char word[TEXT_SHORT_SIZE];
    text_shorten(word, at);
    word[strcspn(word, " ")] = '\0';
    const char *meant = unit_in_other_case(kind, word);
    if (meant)
        return trouble_set(trouble, "", "%s: the unit is written %s", quoted, meant);
    return trouble_set(trouble, "", "%s: \"%s\" is no unit known here; expected %s", quoted, word,
                       kind->expected);
}

static bool say(enum quantity_kind which, enum verdict verdict, const char *text, const char *at,
                struct trouble *trouble)
{
    char quoted[TEXT_SHORT_SIZE];
    const struct kind *kind = &kinds[which];
    text_shorten(quoted, text);
    switch (verdict) {
    case EMPTY:
        return trouble_set(trouble, "", "nothing is written here; expected %s", kind->expected);
    case COMMA:
        return trouble_set(trouble, "", "%s: decimals are written with a point, not a comma",
                           quoted);
    case NO_UNIT:
        return trouble_set(trouble, "", "%s has no unit: write %s", quoted, kind->expected);
    case UNKNOWN_UNIT:
        return say_unit(kind, quoted, at, trouble);
    case UNIT_ORDER:
        return trouble_set(trouble, "", "%s: each unit once, the largest first, as in 2 h 30 min",
                           quoted);
    case NEGATIVE:
        return trouble_set(trouble, "", "%s: %s is never negative", quoted, kind->noun);
    case TOO_LARGE:
        return trouble_set(trouble, "", "%s is too large", quoted);
    case TOO_FINE:
        return trouble_set(trouble, "", "%s is finer than %s, the smallest step of %s", quoted,
                           kind->finest, kind->noun);
    default:
        return trouble_set(trouble, "", "\"%s\" is not %s", quoted, kind->expected);
    }
}

static bool may_be_other(enum verdict verdict)
{
    return verdict == NO_NUMBER || verdict == UNKNOWN_UNIT || verdict == LEFT_OVER;
}

bool quantity_parse(enum quantity_kind kind, const char *text, int64_t *value,
                    struct trouble *trouble)
{
    char quoted[TEXT_SHORT_SIZE];
    const char *at;
    int64_t read;
    enum verdict verdict = read_quantity(kind, text, &at, &read);
    if (verdict == GOOD) {
        *value = read;
        return true;
    }
    const char *noun = may_be_other(verdict) ? read_as_other(kind, text) : NULL;
    if (noun)
        return trouble_set(trouble, "", "%s is %s; expected %s", text_shorten(quoted, text), noun,
                           kinds[kind].expected);
    return say(kind, verdict, text, at, trouble);
}

/* ---- writing -------------------------------------------------------------------- */

static const struct unit *largest_unit(const struct kind *kind, uint64_t value)
{
    const struct unit *smallest = NULL;
    for (int i = 0; i < UNITS_MAX && kind->unit[i].name; i++) {
        if (kind->unit[i].use == READ)
            continue;
        if (value >= (uint64_t)kind->unit[i].holds || (value == 0 && kind->unit[i].use == ZERO))
            return &kind->unit[i];
        smallest = &kind->unit[i];
    }
    return smallest;
}

/* value / holds as a decimal without needless zeros. Every unit holds 2^a 5^b of
 * the inside one, or it is part of a sum and divides evenly. */
static void write_decimal(const struct kind *kind, uint64_t value, const struct unit *unit,
                          struct text *text)
{
    uint64_t holds = (uint64_t)unit->holds, rest = value % holds;
    text_add(text, "%" PRIu64, value / holds);
    for (int place = 0; rest > 0 || place < kind->decimals; place++) {
        text_add(text, place ? "%d" : ".%d", (int)(rest * 10 / holds));
        rest = rest * 10 % holds;
    }
    text_add(text, unit->name[0] ? " %s" : "%s", unit->name);
}

/* Whole days, hours and minutes, then seconds with their decimals. */
static void write_sum(const struct kind *kind, uint64_t value, struct text *text)
{
    const char *blank = "";
    do {
        const struct unit *unit = largest_unit(kind, value);
        uint64_t part = unit->holds > MS_OF_S ? value - value % (uint64_t)unit->holds : value;
        text_add(text, "%s", blank);
        write_decimal(kind, part, unit, text);
        value -= part;
        blank = " ";
    } while (value > 0);
}

static void write_time(int64_t value, struct text *text)
{
    int64_t seconds = value % 60;
    text_add(text, "%02" PRId64 ":%02" PRId64, value / 3600, value / 60 % 60);
    if (seconds > 0)
        text_add(text, ":%02" PRId64, seconds);
}

void quantity_write(enum quantity_kind which, int64_t value, struct text *text)
{
    const struct kind *kind = &kinds[which];
    if (which == QUANTITY_TIME_S) {
        write_time(value, text);
        return;
    }
    uint64_t magnitude = value < 0 ? -(uint64_t)value : (uint64_t)value;
    if (value < 0)
        text_add(text, "-");
    if (kind->sums)
        write_sum(kind, magnitude, text);
    else
        write_decimal(kind, magnitude, largest_unit(kind, magnitude), text);
}
