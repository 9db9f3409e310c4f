/* read.c - one table of rows makes the parser, the defaults and the messages.
 *
 * A value's type comes from the row it belongs to, never from how it looks. */
#include "read.h"
#include "sections.h"

#include <stdarg.h>
#include <string.h>

#include "indent.h"
#include "other_words.h"

bool wrong_at(const struct reader *reader, const struct node *node, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    trouble_add_list(reader->troubles, (struct place){reader->file, node->line, node->column},
                     format, arguments);
    va_end(arguments);
    return false;
}

bool wrong_at_key(const struct reader *reader, const struct node *node, const char *format, ...)
{
    struct place place = {reader->file, node->key_line, node->key_column};
    va_list arguments;
    if (node->key_line == 0)
        place = (struct place){reader->file, node->line, node->column};
    va_start(arguments, format);
    trouble_add_list(reader->troubles, place, format, arguments);
    va_end(arguments);
    return false;
}

void say_wrong(void *context, const char *key, const char *text)
{
    const struct section_place *place = context;
    const struct node *node = key[0] ? node_child(place->map, key) : NULL;
    if (node)
        wrong_at(place->reader, node, "%s", text);
    else
        wrong_at_key(place->reader, place->map, "%s", text);
}

void notice_at(const struct reader *reader, const struct node *node, const char *format, ...)
{
    struct place place = {reader->file, node->line, node->column};
    va_list arguments;
    if (!reader->notices)
        return;
    va_start(arguments, format);
    trouble_add_list(reader->notices, place, format, arguments);
    va_end(arguments);
}

bool is_misread(const struct node *map, const char *key)
{
    const struct node *node = child_of(map, key);
    return node && node->misread;
}

bool want_kind(const struct reader *reader, const struct node *node, enum node_kind kind,
               const char *what)
{
    static const char *const found[] = {
        [NODE_TEXT] = "single value", [NODE_LIST] = "list", [NODE_MAP] = "group of settings"};
    if (node->kind == kind)
        return true;
    return wrong_at(reader, node, "%s is expected here, not a %s", what, found[node->kind]);
}

/* ---- numbers in fields of any width -------------------------------------------------------- */

static void write_number(const struct setting_row *row, void *at, int64_t value)
{
    char *field = (char *)at + row->offset;
    int32_t of_32 = (int32_t)value;
    int16_t of_16 = (int16_t)value;
    int8_t of_8 = (int8_t)value;
    switch (row->size) {
    case sizeof(int64_t):
        memcpy(field, &value, sizeof(value));
        break;
    case sizeof(int32_t):
        memcpy(field, &of_32, sizeof(of_32));
        break;
    case sizeof(int16_t):
        memcpy(field, &of_16, sizeof(of_16));
        break;
    default:
        memcpy(field, &of_8, sizeof(of_8));
    }
}

/* ---- each kind of row --------------------------------------------------------------------- */

static const struct setting_choice *find_choice(const struct setting_row *row, const char *word)
{
    for (const struct setting_choice *choice = row->choices; choice && choice->word; choice++)
        if (strcmp(choice->word, word) == 0)
            return choice;
    return NULL;
}

void choices_write(const struct setting_row *row, uint32_t which, struct text *text)
{
    const char *last = NULL, *comma = "";
    for (const struct setting_choice *choice = row->choices; choice->word; choice++) {
        if (!(which >> (choice->value & 31) & 1))
            continue;
        if (last) {
            text_add(text, "%s%s", comma, last);
            comma = ", ";
        }
        last = choice->word;
    }
    text_add(text, "%s%s", text->used ? " or " : "", last ? last : "");
}

static bool read_choice(const struct reader *reader, const struct setting_row *row,
                        const struct node *node, void *at)
{
    const struct setting_choice *choice = find_choice(row, node->text);
    if (choice) {
        write_number(row, at, choice->value);
        return true;
    }
    char buffer[TROUBLE_TEXT_MAX];
    struct text words = text_in(buffer, sizeof(buffer));
    choices_write(row, UINT32_MAX, &words);
    return wrong_at(reader, node, "%s: \"%s\" is not one of the choices; write %s", row->key,
                    QUOTED(node->text), buffer);
}

static bool in_range(const struct reader *reader, const struct setting_row *row,
                     const struct node *node, int64_t value)
{
    char least_text[48], greatest_text[48];
    struct text least = text_in(least_text, sizeof(least_text));
    struct text greatest = text_in(greatest_text, sizeof(greatest_text));
    bool limited = row->least != 0 || row->greatest != 0;
    if (!limited || (value >= row->least && value <= row->greatest))
        return true;
    quantity_write(row->unit, row->least, &least);
    quantity_write(row->unit, row->greatest, &greatest);
    return wrong_at(reader, node, "%s: %s is out of range; from %s to %s", row->key,
                    QUOTED(node->text), least_text, greatest_text);
}

/* A field may count in larger steps than the quantity's own: days, not milliseconds. */
static bool is_whole(const struct reader *reader, const struct setting_row *row,
                     const struct node *node, int64_t value)
{
    char buffer[48];
    struct text step = text_in(buffer, sizeof(buffer));
    if (row->per == 0 || value % row->per == 0)
        return true;
    quantity_write(row->unit, row->per, &step);
    return wrong_at(reader, node, "%s: %s is not in whole steps of %s", row->key,
                    QUOTED(node->text), buffer);
}

/* A word where words may stand in the quantity's place: they are named. */
static bool wrong_quantity(const struct reader *reader, const struct setting_row *row,
                           const struct node *node, const struct trouble *trouble)
{
    char buffer[TROUBLE_TEXT_MAX];
    struct text words = text_in(buffer, sizeof(buffer));
    if (!row->choices || strspn(node->text, "+-.0123456789") > 0)
        return wrong_at(reader, node, "%s: %s", row->key, trouble->text);
    choices_write(row, UINT32_MAX, &words);
    return wrong_at(reader, node, "%s: %s; or write %s", row->key, trouble->text, buffer);
}

static bool read_quantity(const struct reader *reader, const struct setting_row *row,
                          const struct node *node, void *at)
{
    struct trouble trouble;
    int64_t value;
    const struct setting_choice *choice = find_choice(row, node->text);
    if (choice) {
        write_number(row, at, choice->value);
        return true;
    }
    if (!quantity_parse(row->unit, node->text, &value, &trouble))
        return wrong_quantity(reader, row, node, &trouble);
    if (!in_range(reader, row, node, value) || !is_whole(reader, row, node, value))
        return false;
    write_number(row, at, row->per ? value / row->per : value);
    return true;
}

static bool read_text(const struct reader *reader, const struct setting_row *row,
                      const struct node *node, void *at)
{
    if (strlen(node->text) >= row->size)
        return wrong_at(reader, node, "%s: longer than %zu bytes", row->key, row->size - 1);
    for (const char *c = node->text; *c; c++)
        if (text_is_control(c))
            return wrong_at(reader, node, "%s: has a control character in it", row->key);
    if (!node->text[0] && !(row->initial && !row->initial[0]))
        return wrong_at(reader, node, "%s: is empty", row->key);
    strcpy((char *)at + row->offset, node->text);
    return true;
}

static bool read_yes_no(const struct reader *reader, const struct setting_row *row,
                        const struct node *node, void *at)
{
    bool yes = strcmp(node->text, "yes") == 0;
    if (!yes && strcmp(node->text, "no") != 0)
        return wrong_at(reader, node, "%s: is yes or no, not \"%s\"", row->key, QUOTED(node->text));
    memcpy((char *)at + row->offset, &yes, sizeof(yes));
    return true;
}

static bool read_weekdays(const struct reader *reader, const struct setting_row *row,
                          const struct node *node, void *at)
{
    const struct node *each = node->kind == NODE_LIST ? node->first : node;
    uint8_t weekdays = 0, more;
    struct trouble trouble;
    if (!each)
        return wrong_at(reader, node, "%s: lists no day", row->key);
    for (; each; each = node->kind == NODE_LIST ? each->next : NULL) {
        if (!want_kind(reader, each, NODE_TEXT, "a day, such as mon,"))
            return false;
        if (!weekdays_parse(each->text, &more, &trouble))
            return wrong_at(reader, each, "%s: %s", row->key, trouble.text);
        weekdays |= more;
    }
    write_number(row, at, weekdays);
    return true;
}

static bool read_span(const struct reader *reader, const struct setting_row *row,
                      const struct node *node, struct hours *hours)
{
    struct trouble trouble;
    if (!want_kind(reader, node, NODE_TEXT, "a span, such as \"mon-fri 09:00-15:00\","))
        return false;
    if (hours->count == HOURS_SPANS_MAX)
        return wrong_at(reader, node, "%s: has more than %d spans", row->key, HOURS_SPANS_MAX);
    if (!hours_span_parse(node->text, &hours->span[hours->count], &trouble))
        return wrong_at(reader, node, "%s: %s", row->key, trouble.text);
    hours->count++;
    return true;
}

static bool read_hours(const struct reader *reader, const struct setting_row *row,
                       const struct node *node, void *at)
{
    struct hours hours = {.count = 0};
    bool ok = true;
    if (node->kind == NODE_TEXT)
        ok = read_span(reader, row, node, &hours);
    else if (!node->first)
        ok = wrong_at(reader, node, "%s: lists no hours", row->key);
    for (const struct node *span = node->first; span; span = span->next)
        ok &= read_span(reader, row, span, &hours);
    if (ok)
        memcpy((char *)at + row->offset, &hours, sizeof(hours));
    return ok;
}

static bool add_phase(const struct reader *reader, const struct setting_row *row,
                      const struct node *node, uint8_t *phases)
{
    static const char *const names[] = {"L1", "L2", "L3"};
    for (unsigned k = 0; k < 3; k++)
        if (node->kind == NODE_TEXT && strcmp(node->text, names[k]) == 0) {
            if (*phases >> k & 1)
                return wrong_at(reader, node, "%s: %s is there twice", row->key, names[k]);
            *phases = (uint8_t)(*phases | 1u << k);
            return true;
        }
    return wrong_at(reader, node, "%s: a phase is L1, L2 or L3, or several as [L1, L2, L3]",
                    row->key);
}

static bool read_phases(const struct reader *reader, const struct setting_row *row,
                        const struct node *node, void *at)
{
    uint8_t phases = 0;
    bool ok = true;
    if (node->kind == NODE_TEXT)
        ok = add_phase(reader, row, node, &phases);
    else if (!node->first)
        ok = wrong_at(reader, node, "%s: lists no phase", row->key);
    for (const struct node *phase = node->first; phase; phase = phase->next)
        ok &= add_phase(reader, row, phase, &phases);
    if (ok)
        write_number(row, at, phases);
    return ok;
}

typedef bool read_fn(const struct reader *reader, const struct setting_row *row,
                     const struct node *node, void *at);

/* Rows of SETTING_WORDS are read by their section's own code. */
static const struct {
    read_fn *read;
    bool lists; /* a list will do as well as a single value */
} by_kind[] = {
    [SETTING_QUANTITY] = {read_quantity, false}, [SETTING_TEXT] = {read_text, false},
    [SETTING_YES_NO] = {read_yes_no, false},     [SETTING_CHOICE] = {read_choice, false},
    [SETTING_WEEKDAYS] = {read_weekdays, true},  [SETTING_HOURS] = {read_hours, true},
    [SETTING_PHASES] = {read_phases, true},
};

bool read_value(const struct reader *reader, const struct setting_row *row, struct node *node,
                void *at)
{
    node->used = true;
    node->misread = (!(by_kind[row->kind].lists && node->kind == NODE_LIST) &&
                     !want_kind(reader, node, NODE_TEXT, "a single value")) ||
                    !by_kind[row->kind].read(reader, row, node, at);
    return !node->misread;
}

/* ---- one row of a section -------------------------------------------------------------------- */

static void read_initial(const struct reader *reader, const struct setting_row *row, void *at)
{
    struct node initial = {.kind = NODE_TEXT, .text = (char *)(uintptr_t)row->initial};
    read_value(reader, row, &initial, at);
}

/* The section's `kind` is its first row where others depend on it. */
static bool kind_of(const struct node *map, const struct setting_row *kind, int *value)
{
    const struct node *node = node_child(map, kind->key);
    const struct setting_choice *choice =
        node ? node->kind == NODE_TEXT ? find_choice(kind, node->text) : NULL
             : find_choice(kind, kind->initial ? kind->initial : "");
    if (choice)
        *value = choice->value;
    return choice != NULL;
}

bool kind_known(const struct node *map, const struct setting_rows *rows)
{
    int value;
    return kind_of(map, &rows->row[0], &value);
}

/* Whether the row goes with the section's kind. `node`: what was written all the same. */
static bool check_only(const struct reader *reader, const struct node *map,
                       const struct setting_rows *rows, const struct setting_row *row,
                       const struct node *node)
{
    const struct setting_row *kind = &rows->row[0];
    char buffer[96];
    struct text words = text_in(buffer, sizeof(buffer));
    int value;
    if (!row->only || !map || !kind_of(map, kind, &value) || row->only >> value & 1)
        return true;
    choices_write(kind, row->only, &words);
    if (node)
        wrong_at_key(reader, node, "%s goes only with %s: %s", row->key, kind->key, buffer);
    return false;
}

static void read_row(const struct reader *reader, const char *section, const struct node *map,
                     const struct target *target, const struct setting_row *row)
{
    struct node *node = map ? node_child(map, row->key) : NULL;
    if (node)
        node->used = true;
    if (!check_only(reader, map, target->rows, row, node) || row->kind == SETTING_WORDS)
        return; /* another kind may keep its own in the same place */
    if (node)
        read_value(reader, row, node, target->at);
    else if (row->initial && row->initial[0])
        read_initial(reader, row, target->at);
    else if (!row->initial && map && is_missing(map, row->key))
        wrong_at_key(reader, map, "%s needs %s: %s", section, row->key,
                     row->text ? row->text : "it is not there");
}

/* ---- keys that the section does not know ----------------------------------------------------- */

/* All that it knows. */
struct keys {
    const char *key[96];
    size_t count;
};

static void add_key(struct keys *keys, const char *key)
{
    if (keys->count < sizeof(keys->key) / sizeof(keys->key[0]))
        keys->key[keys->count++] = key;
}

static struct keys keys_of(const struct target targets[], int target_count,
                           const char *const *others)
{
    struct keys keys = {.count = 0};
    for (int t = 0; t < target_count; t++)
        for (size_t k = 0; k < targets[t].rows->count; k++)
            add_key(&keys, targets[t].rows->row[k].key);
    for (; others && *others; others++)
        add_key(&keys, *others);
    return keys;
}

static bool is_known(const struct keys *keys, const char *key)
{
    for (size_t k = 0; k < keys->count; k++)
        if (strcmp(keys->key[k], key) == 0)
            return true;
    return false;
}

/* What the key is elsewhere or in other words; else what it is near to. Returns the key of
 * this section that was meant, or NULL. */
static const char *hint_key(const struct node *map, const struct node *child,
                            const struct keys *keys, struct text *text)
{
    const char *meant = other_word(child->key, keys->key, keys->count);
    if (meant) {
        text_add(text, "; here that is \"%s\"", meant);
        return meant;
    }
    if (indent_hint(map, child, text))
        return NULL;
    text_add(text, "%s", HINT(child->key, keys->key, keys->count));
    return text_nearest(child->key, keys->key, keys->count);
}

/* Before what is missing is looked for: what may be there under another name. */
static void find_meant(struct node *map, const struct keys *keys)
{
    int left = TROUBLES_MAX; /* more are not reported either */
    for (struct node *child = map->first; child && left > 0; child = child->next) {
        char buffer[TEXT_SHORT_SIZE * 2];
        struct text hint = text_in(buffer, sizeof(buffer));
        if (is_known(keys, child->key))
            continue;
        child->meant = hint_key(map, child, keys, &hint);
        left--;
    }
}

bool is_missing(const struct node *map, const char *key)
{
    for (const struct node *child = map->first; child; child = child->next)
        if (strcmp(child->key, key) == 0 || (child->meant && strcmp(child->meant, key) == 0))
            return false;
    return !indent_has_moved(map, key);
}

static void report_unknown(const struct reader *reader, const char *section, struct node *map,
                           const struct keys *keys)
{
    for (struct node *child = map->first; child; child = child->next) {
        char buffer[TEXT_SHORT_SIZE * 2];
        struct text hint = text_in(buffer, sizeof(buffer));
        child->used |= is_known(keys, child->key);
        if (child->used || troubles_full(reader->troubles))
            continue;
        hint_key(map, child, keys, &hint);
        wrong_at_key(reader, child, "%s has no setting \"%s\"%s", section, QUOTED(child->key),
                     buffer);
    }
}

/* ---- a section --------------------------------------------------------------------------------
 */

void read_section(const struct reader *reader, const char *section, struct node *map,
                  const struct target targets[], int target_count, const char *const *others)
{
    if (map && !want_kind(reader, map, NODE_MAP, "a group of settings"))
        return;
    const struct keys keys = keys_of(targets, target_count, others);
    if (map)
        find_meant(map, &keys);
    for (int t = 0; t < target_count; t++)
        for (size_t k = 0; k < targets[t].rows->count; k++)
            read_row(reader, section, map, &targets[t], &targets[t].rows->row[k]);
    if (map)
        report_unknown(reader, section, map, &keys);
}

/* ---- sections of named entries ----------------------------------------------------------------
 */

bool want_section(const struct reader *reader, const struct node *root, const char *section)
{
    const struct node *map = node_child(root, section);
    if (!map)
        return is_missing(root, section) &&
               wrong_at(reader, root, "the section %s is missing", section);
    if (map->kind == NODE_MAP ? map->first != NULL : map->kind == NODE_LIST || map->text[0])
        return true;
    return !indent_explains_empty(map) &&
           wrong_at_key(reader, map, "the section %s is empty", section);
}

void read_each(const struct reader *reader, struct node *root, const char *section, int most,
               struct settings *settings, read_entry *read, const void *context)
{
    struct node *map = node_child(root, section);
    int index = 0;
    if (!map || !want_kind(reader, map, NODE_MAP, "a group of named entries"))
        return;
    for (struct node *node = map->first; node; node = node->next) {
        if (node->used || indent_explains_empty(node))
            continue; /* a second one of that name, or one whose settings are not indented */
        if (indent_is_setting(map, node)) {
            char buffer[TEXT_SHORT_SIZE * 2];
            struct text hint = text_in(buffer, sizeof(buffer));
            indent_hint(map, node, &hint);
            wrong_at_key(reader, node, "\"%s\" is a setting, not a name under %s%s",
                         QUOTED(node->key), section, buffer);
            continue;
        }
        if (index == most) {
            wrong_at_key(reader, node, "%s has more than %d entries", section, most);
            return;
        }
        if (is_name(node->key))
            read(reader, node, settings, index++, context);
        else
            wrong_at_key(reader, node, "\"%s\" is not a name: use up to 31 of a-z, 0-9 and hyphens",
                         QUOTED(node->key));
    }
}
