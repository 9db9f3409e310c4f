/* names.c - roles and units by their words.
 *
 * A name is taken apart into words ("Grid import [kWh]": grid, import, kwh). Roles and
 * units are rows of words; the first row that has one of the name's words wins, so that
 * "grid import" is import. Money and temperatures
 * are nobody's energy, and a controlled load is in no other register. */
#include "days/names.h"

#include <string.h>
#include <strings.h>

enum { WORDS_MAX = 12, WORD_SIZE = 24, S_PER_HOUR = 3600 };

/* In order of precedence; "a b" are two words in this order. */
static const struct role_row {
    enum days_role role;
    const char *name;
    const char *words;
} role_rows[] = {
    {DAYS_UNKNOWN, NULL,
     "temperature|temp|cost|costs|price|amount|charge|charges|credit|rate|"
     "controlled|cl|heater"},
    {DAYS_IMPORT, "import", "import|imported|imports|purchased|from grid"},
    {DAYS_EXPORT, "export",
     "export|exported|exports|feedin|feed in|fed in|sold|injection|injected|to grid"},
    {DAYS_DRAW, "draw", "draw|draws|hotwater|hot water|dhw|litres|liters"},
    {DAYS_SOLAR, "solar", "solar|pv|generation|generated|production|yield|photovoltaic"},
    {DAYS_USE, "use", "use|usage|used|consumption|load|household|house"},
    {DAYS_GRID, "grid", "grid|net|meter"},
    {DAYS_TIME, "time", "time|timestamp|datetime|date|when"},
};
enum { ROLE_ROWS = sizeof(role_rows) / sizeof(role_rows[0]) };

static const struct unit_row {
    enum days_unit unit;
    const char *name;
    const char *words;
} unit_rows[] = {
    {DAYS_W_PER_KWP, "W/kWp", "w per kwp|w kwp"},
    {DAYS_KW_PER_KWP, "kW/kWp", "kw per kwp|kw kwp"},
    {DAYS_L_PER_HOUR, "l/h", "l h|l per hour|litres per hour|lph"},
    {DAYS_L_PER_MINUTE, "l/min", "l min|l per minute|lpm"},
    {DAYS_KWH, "kWh", "kwh|kilowatt hours|kw h"},
    {DAYS_WH, "Wh", "wh|watt hours"},
    {DAYS_KW, "kW", "kw|kilowatts"},
    {DAYS_W, "W", "w|watt|watts"},
    {DAYS_L, "l", "l|litres|liters"},
};
enum { UNIT_ROWS = sizeof(unit_rows) / sizeof(unit_rows[0]) };

/* ---- words ---------------------------------------------------------------------------- */

struct words {
    char word[WORDS_MAX][WORD_SIZE];
    int count;
};

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

static struct words words_of(struct days_field name)
{
    struct words words = {.count = 0};
    int length = 0;
    for (size_t k = 0; k <= name.length; k++) {
        char c = k < name.length ? name.at[k] : ' ';
        if (is_letter(c) && words.count < WORDS_MAX && length < WORD_SIZE - 1) {
            words.word[words.count][length++] = (char)(c | 0x20);
        } else if (!is_letter(c) && length > 0) {
            words.word[words.count++][length] = '\0';
            length = 0;
        }
    }
    return words;
}

/* "fed in": both, one after the other. */
static bool has_sequence(const struct words *words, const char *wanted, size_t length)
{
    struct words sequence = words_of((struct days_field){wanted, length});
    for (int first = 0; first + sequence.count <= words->count; first++) {
        int k = 0;
        while (k < sequence.count && strcmp(words->word[first + k], sequence.word[k]) == 0)
            k++;
        if (k == sequence.count)
            return true;
    }
    return false;
}

static bool has_any(const struct words *words, const char *wanted)
{
    for (const char *at = wanted; *at;) {
        size_t length = strcspn(at, "|");
        if (has_sequence(words, at, length))
            return true;
        at += length + (at[length] == '|');
    }
    return false;
}

bool days_name_has(struct days_field name, const char *words)
{
    struct words held = words_of(name);
    return has_any(&held, words);
}

/* ---- units ---------------------------------------------------------------------------- */

const char *days_unit_name(enum days_unit unit)
{
    for (int k = 0; k < UNIT_ROWS; k++)
        if (unit_rows[k].unit == unit)
            return unit_rows[k].name;
    return "";
}

bool days_unit_parse(const char *word, enum days_unit *unit)
{
    for (int k = 0; k < UNIT_ROWS; k++)
        if (strcasecmp(word, unit_rows[k].name) == 0) {
            *unit = unit_rows[k].unit;
            return true;
        }
    return false;
}

bool days_unit_is_energy(enum days_unit unit)
{
    return unit == DAYS_W || unit == DAYS_KW || unit == DAYS_WH || unit == DAYS_KWH;
}

bool days_unit_fits(enum days_unit unit, enum days_role role)
{
    bool water = unit == DAYS_L || unit == DAYS_L_PER_HOUR || unit == DAYS_L_PER_MINUTE;
    bool per_kwp = unit == DAYS_W_PER_KWP || unit == DAYS_KW_PER_KWP;
    return (role == DAYS_DRAW) == water && (!per_kwp || role == DAYS_SOLAR);
}

enum days_unit days_unit_of(struct days_field name, enum days_role role)
{
    struct words words = words_of(name);
    for (int k = 0; k < UNIT_ROWS; k++)
        if ((role == DAYS_UNKNOWN || days_unit_fits(unit_rows[k].unit, role)) &&
            has_any(&words, unit_rows[k].words))
            return unit_rows[k].unit;
    return DAYS_UNIT_BY_HEADER;
}

double days_unit_factor(enum days_unit unit, int32_t step_s, double array_kwp)
{
    switch (unit) {
    case DAYS_KW:
        return 1e3;
    case DAYS_WH:
        return (double)S_PER_HOUR / step_s;
    case DAYS_KWH:
        return 1e3 * S_PER_HOUR / step_s;
    case DAYS_W_PER_KWP:
        return array_kwp;
    case DAYS_KW_PER_KWP:
        return 1e3 * array_kwp;
    case DAYS_L_PER_HOUR:
        return (double)step_s / S_PER_HOUR;
    case DAYS_L_PER_MINUTE:
        return step_s / 60.0;
    case DAYS_W:
    case DAYS_L:
    case DAYS_UNIT_BY_HEADER:
        break;
    }
    return 1;
}

/* ---- roles ---------------------------------------------------------------------------- */

const char *days_role_name(enum days_role role)
{
    for (int k = 0; k < ROLE_ROWS; k++)
        if (role_rows[k].role == role && role_rows[k].name)
            return role_rows[k].name;
    return "unknown";
}

/* Hot water in kWh is no water that was drawn. */
enum days_role days_role_of(struct days_field name)
{
    struct words words = words_of(name);
    for (int k = 0; k < ROLE_ROWS; k++)
        if (has_any(&words, role_rows[k].words)) {
            enum days_role role = role_rows[k].role;
            bool energy = days_unit_is_energy(days_unit_of(name, DAYS_UNKNOWN));
            return role == DAYS_DRAW && energy ? DAYS_UNKNOWN : role;
        }
    return DAYS_UNKNOWN;
}
