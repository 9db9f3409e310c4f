/* fields.c - splitting lines and reading numbers by hand.
 *
 * strtod looks at the locale and costs ten times as much, and sixty million numbers are
 * to be read from a year of seconds. Up to 18 digits are gathered as a whole number and
 * divided once by a power of ten: exact enough for watts by far. */
#include "days/fields.h"

#include <stdint.h>
#include <string.h>
#include <strings.h>

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static struct days_field trimmed(const char *begin, const char *end)
{
    while (begin < end && is_blank(*begin))
        begin++;
    while (begin < end && is_blank(end[-1]))
        end--;
    if (end - begin >= 2 && *begin == '"' && end[-1] == '"')
        return trimmed(begin + 1, end - 1);
    return (struct days_field){begin, (size_t)(end - begin)};
}

int days_fields_split(const char *line, size_t length, char separator,
                      struct days_field fields[static DAYS_FIELDS_MAX])
{
    const char *begin = line, *end = line + length;
    bool quoted = false;
    int count = 0;
    for (const char *at = line;; at++) {
        if (at < end && *at == '"')
            quoted = !quoted;
        if (at < end && (quoted || *at != separator))
            continue;
        if (count == DAYS_FIELDS_MAX)
            return DAYS_FIELDS_TOO_MANY;
        fields[count++] = trimmed(begin, at);
        if (at >= end)
            return quoted ? DAYS_FIELDS_OPEN_QUOTE : count;
        begin = at + 1;
    }
}

char days_fields_separator(const char *line, size_t length)
{
    bool quoted = false;
    for (size_t k = 0; k < length; k++) {
        if (line[k] == '"')
            quoted = !quoted;
        if (!quoted && (line[k] == ';' || line[k] == '\t'))
            return line[k];
    }
    return ',';
}

bool days_field_is(struct days_field field, const char *word)
{
    return strlen(word) == field.length && strncasecmp(field.at, word, field.length) == 0;
}

static bool is_missing(struct days_field field)
{
    static const char *const marks[] = {"NA", "N/A", "#N/A", "NaN", "null", "none", "-", "--"};
    if (field.length == 0)
        return true;
    for (size_t k = 0; k < sizeof(marks) / sizeof(marks[0]); k++)
        if (days_field_is(field, marks[k]))
            return true;
    return false;
}

/* ---- numbers ------------------------------------------------------------------ */

enum { DIGITS_MAX = 18, EXPONENT_MAX = 30 };

static double power_of_ten(int exponent)
{
    double power = 1;
    for (; exponent > 0; exponent--)
        power *= 10;
    return power;
}

struct digits {
    int64_t value;
    int kept, dropped, after_mark;
    bool any;
};

/* Digits that a double could not hold anyway only shift the mark. */
static void take_digit(struct digits *digits, char digit, bool after_mark)
{
    digits->any = true;
    if (digits->kept == DIGITS_MAX) {
        digits->dropped += !after_mark;
        return;
    }
    digits->value = digits->value * 10 + (digit - '0');
    digits->kept += digits->value > 0;
    digits->after_mark += after_mark;
}

static const char *take_exponent(const char *at, const char *end, int *exponent)
{
    if (at == end || (*at != 'e' && *at != 'E'))
        return at;
    bool minus = ++at < end && *at == '-';
    if (at < end && (*at == '-' || *at == '+'))
        at++;
    if (at == end)
        return NULL;
    for (; at < end && is_digit(*at) && *exponent <= EXPONENT_MAX; at++)
        *exponent = *exponent * 10 + (*at - '0');
    if (minus)
        *exponent = -*exponent;
    return at;
}

static bool scaled(const struct digits *digits, int exponent, bool minus, double *value)
{
    int shift = exponent + digits->dropped - digits->after_mark;
    if (exponent > EXPONENT_MAX || exponent < -EXPONENT_MAX || digits->dropped > EXPONENT_MAX ||
        digits->after_mark > 300)
        return false;
    double whole = (double)digits->value;
    whole = shift < 0 ? whole / power_of_ten(-shift) : whole * power_of_ten(shift);
    *value = minus ? -whole : whole;
    return true;
}

enum days_number days_field_number(struct days_field field, bool comma, char *mark, double *value)
{
    const char *at = field.at, *end = at + field.length;
    struct digits digits = {0};
    char seen = '\0';
    int exponent = 0;
    if (field.length == 0 || (!is_digit(*at) && is_missing(field)))
        return DAYS_NUMBER_MISSING;
    bool minus = *at == '-';
    if (*at == '-' || *at == '+')
        at++;
    for (; at < end; at++) {
        if (is_digit(*at))
            take_digit(&digits, *at, seen != '\0');
        else if (!seen && (*at == '.' || (comma && *at == ',')))
            seen = *at;
        else
            break;
    }
    at = take_exponent(at, end, &exponent);
    if (at != end || !digits.any || !scaled(&digits, exponent, minus, value))
        return DAYS_NUMBER_NONE;
    if (seen && *mark && seen != *mark)
        return DAYS_NUMBER_OTHER_MARK;
    if (seen)
        *mark = seen;
    return DAYS_NUMBER;
}

enum days_mark days_field_mark(struct days_field number)
{
    const char *at = number.at, *end = at + number.length;
    if (at < end && (*at == '-' || *at == '+'))
        at++;
    const char *mark = at;
    while (mark < end && is_digit(*mark))
        mark++;
    bool groups = mark - at <= 3 && (mark - at == 1 || *at != '0');
    if (mark == end)
        return groups ? DAYS_MARK_UNTOLD : DAYS_MARK_DECIMAL;
    bool three = end - mark == 4 && is_digit(mark[1]) && is_digit(mark[2]) && is_digit(mark[3]);
    return groups && three && mark > at && *at != '0' ? DAYS_MARK_EITHER : DAYS_MARK_DECIMAL;
}

const char *days_field_quote(struct days_field field, char buffer[static DAYS_QUOTE_SIZE])
{
    size_t length = field.length, most = DAYS_QUOTE_SIZE - sizeof("...");
    bool cut = length > most;
    if (cut)
        for (length = most; length > 0 && ((unsigned char)field.at[length] & 0xc0) == 0x80;)
            length--; /* not between the bytes of one character */
    for (size_t k = 0; k < length; k++)
        buffer[k] = (unsigned char)field.at[k] < ' ' ? '?' : field.at[k];
    strcpy(buffer + length, cut ? "..." : "");
    return buffer;
}
