/* read.c - one table of rows makes the parser, the defaults and the messages.
 *
 * A value's type comes from the row it belongs to, never from how it looks. */
#include "read.h"

#include <string.h>

static void write_number(const struct setting_row *row, void *at, int64_t value)
{
    char *field = (char *)at + row->offset;
    switch (row->size) {
    case sizeof(int64_t):
        memcpy(field, &value, sizeof(value));
        break;
    case sizeof(int32_t): {
        int32_t narrow = (int32_t)value;
        memcpy(field, &narrow, sizeof(narrow));
        break;
    }
    case sizeof(int16_t): {
        int16_t narrow = (int16_t)value;
        memcpy(field, &narrow, sizeof(narrow));
        break;
    }
    default: {
        int8_t narrow = (int8_t)value;
        memcpy(field, &narrow, sizeof(narrow));
        break;
    }
    }
}

bool want_kind(const struct reader *reader, const struct node *node, enum node_kind kind,
               const char *what)
{
    if (node->kind == kind)
        return true;
    trouble_at(reader->troubles, reader->file, node, "%s is expected here, not a %s", what,
               node->kind == NODE_TEXT   ? "single value"
               : node->kind == NODE_LIST ? "list"
                                         : "group of settings");
    return false;
}

bool is_name(const char *text)
{
    size_t length = strlen(text);
    return length > 0 && length < SETTINGS_NAME_MAX &&
           strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789-") == length && text[0] != '-' &&
           text[length - 1] != '-';
}

/* ---- each kind of row --------------------------------------------------------------------- */

static const struct setting_choice *find_choice(const struct setting_row *row, const char *word)
{
    for (const struct setting_choice *choice = row->choices; choice && choice->word; choice++)
        if (strcmp(choice->word, word) == 0)
            return choice;
    return NULL;
}

static void list_choices(const struct setting_row *row, struct text *text)
{
    for (const struct setting_choice *choice = row->choices; choice->word; choice++)
        text_add(text, "%s%s",
                 choice == row->choices ? ""
                 : (choice + 1)->word   ? ", "
                                        : " or ",
                 choice->word);
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
    list_choices(row, &words);
    trouble_at(reader->troubles, reader->file, node, "\"%.60s\" is not a choice for %s: write %s",
               node->text, row->key, buffer);
    return false;
}

static bool in_range(const struct reader *reader, const struct setting_row *row,
                     const struct node *node, int64_t value)
{
    bool limited = row->least != 0 || row->greatest != 0;
    if (!limited || (value >= row->least && value <= row->greatest))
        return true;
    char least_text[48], greatest_text[48];
    struct text least = text_in(least_text, sizeof(least_text));
    struct text greatest = text_in(greatest_text, sizeof(greatest_text));
    quantity_write(row->unit, row->least, &least);
    quantity_write(row->unit, row->greatest, &greatest);
    trouble_at(reader->troubles, reader->file, node, "%s may be from %s to %s, not \"%.60s\"",
               row->key, least_text, greatest_text, node->text);
    return false;
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
    trouble_at(reader->troubles, reader->file, node, "%s goes in steps of %s, not \"%.60s\"",
               row->key, buffer, node->text);
    return false;
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
    if (!quantity_parse(row->unit, node->text, &value, &trouble)) {
        trouble_at(reader->troubles, reader->file, node, "%s: %s", row->key, trouble.text);
        return false;
    }
    if (!in_range(reader, row, node, value) || !is_whole(reader, row, node, value))
        return false;
    write_number(row, at, row->per ? value / row->per : value);
    return true;
}

static bool read_text(const struct reader *reader, const struct setting_row *row,
                      const struct node *node, void *at)
{
    if (strlen(node->text) >= row->size) {
        trouble_at(reader->troubles, reader->file, node, "%s is longer than %zu characters",
                   row->key, row->size - 1);
        return false;
    }
    for (const char *c = node->text; *c; c++)
        if ((unsigned char)*c < ' ' || *c == 0x7f) {
            trouble_at(reader->troubles, reader->file, node, "%s has a control character in it",
                       row->key);
            return false;
        }
    strcpy((char *)at + row->offset, node->text);
    return true;
}

static bool read_yes_no(const struct reader *reader, const struct setting_row *row,
                        const struct node *node, void *at)
{
    bool yes = strcmp(node->text, "yes") == 0;
    if (!yes && strcmp(node->text, "no") != 0) {
        trouble_at(reader->troubles, reader->file, node, "%s is yes or no, not \"%.60s\"", row->key,
                   node->text);
        return false;
    }
    memcpy((char *)at + row->offset, &yes, sizeof(yes));
    return true;
}

static bool read_weekdays(const struct reader *reader, const struct setting_row *row,
                          const struct node *node, void *at)
{
    struct trouble trouble;
    uint8_t weekdays;
    if (weekdays_parse(node->text, &weekdays, &trouble)) {
        write_number(row, at, weekdays);
        return true;
    }
    trouble_at(reader->troubles, reader->file, node, "%s: %s", row->key, trouble.text);
    return false;
}

static bool read_span(const struct reader *reader, const struct setting_row *row,
                      const struct node *node, struct hours *hours)
{
    struct trouble trouble;
    if (!want_kind(reader, node, NODE_TEXT, "a span, such as \"mon-fri 09:00-15:00\","))
        return false;
    if (hours->count == HOURS_SPANS_MAX) {
        trouble_at(reader->troubles, reader->file, node, "%s has more than %d spans", row->key,
                   HOURS_SPANS_MAX);
        return false;
    }
    if (hours_span_parse(node->text, &hours->span[hours->count], &trouble)) {
        hours->count++;
        return true;
    }
    trouble_at(reader->troubles, reader->file, node, "%s: %s", row->key, trouble.text);
    return false;
}

static bool read_hours(const struct reader *reader, const struct setting_row *row,
                       const struct node *node, void *at)
{
    struct hours hours = {.count = 0};
    bool ok = true;
    if (node->kind == NODE_LIST) {
        for (const struct node *span = node->first; span; span = span->next)
            ok &= read_span(reader, row, span, &hours);
    } else {
        ok = read_span(reader, row, node, &hours);
    }
    if (ok)
        memcpy((char *)at + row->offset, &hours, sizeof(hours));
    return ok;
}

static bool add_phase(const struct reader *reader, const struct node *node, uint8_t *phases)
{
    static const char *const names[] = {"L1", "L2", "L3"};
    for (unsigned k = 0; k < 3; k++)
        if (node->kind == NODE_TEXT && strcmp(node->text, names[k]) == 0) {
            *phases = (uint8_t)(*phases | 1u << k);
            return true;
        }
    trouble_at(reader->troubles, reader->file, node, "a phase is L1, L2 or L3");
    return false;
}

static bool read_phases(const struct reader *reader, const struct setting_row *row,
                        const struct node *node, void *at)
{
    uint8_t phases = 0;
    bool ok = true;
    if (node->kind == NODE_LIST) {
        for (const struct node *phase = node->first; phase; phase = phase->next)
            ok &= add_phase(reader, phase, &phases);
    } else {
        ok = add_phase(reader, node, &phases);
    }
    if (ok)
        write_number(row, at, phases);
    return ok;
}

bool read_value(const struct reader *reader, const struct setting_row *row, struct node *node,
                void *at)
{
    typedef bool read_fn(const struct reader *, const struct setting_row *, const struct node *,
                         void *);
    static read_fn *const by_kind[] = {
        [SETTING_QUANTITY] = read_quantity, [SETTING_TEXT] = read_text,
        [SETTING_YES_NO] = read_yes_no,     [SETTING_CHOICE] = read_choice,
        [SETTING_WEEKDAYS] = read_weekdays, [SETTING_HOURS] = read_hours,
        [SETTING_PHASES] = read_phases,
    };
    bool lists = row->kind == SETTING_HOURS || row->kind == SETTING_PHASES;
    node->used = true;
    if (!(lists && node->kind == NODE_LIST) && !want_kind(reader, node, NODE_TEXT, "a value"))
        return false;
    return by_kind[row->kind](reader, row, node, at);
}

/* ---- a section ------------------------------------------------------------------------------ */

static void read_initial(const struct reader *reader, const struct setting_row *row, void *at)
{
    struct node initial = {.kind = NODE_TEXT, .text = (char *)(uintptr_t)row->initial};
    read_value(reader, row, &initial, at);
}

static void read_row(const struct reader *reader, const char *section, const struct node *map,
                     const struct setting_row *row, void *at)
{
    struct node *node = map ? node_child(map, row->key) : NULL;
    if (node)
        node->used = true;
    if (row->kind == SETTING_WORDS)
        return;
    if (node)
        read_value(reader, row, node, at);
    else if (row->initial && row->initial[0])
        read_initial(reader, row, at);
    else if (!row->initial && map)
        trouble_at_key(reader->troubles, reader->file, map, "%s needs %s: %s", section, row->key,
                       row->text);
    else if (!row->initial)
        trouble_in(reader->troubles, reader->file, "%s is missing: it needs %s", section, row->key);
}

static const char *nearest_key(const char *key, const struct target targets[], int target_count,
                               const char *const *others)
{
    enum { KEYS_MAX = 96 };
    const char *keys[KEYS_MAX];
    size_t count = 0;
    for (int t = 0; t < target_count; t++)
        for (size_t k = 0; k < targets[t].rows->count && count < KEYS_MAX; k++)
            keys[count++] = targets[t].rows->row[k].key;
    for (; others && *others && count < KEYS_MAX; others++)
        keys[count++] = *others;
    return text_nearest(key, keys, count);
}

static void report_unknown(const struct reader *reader, const char *section, struct node *map,
                           const struct target targets[], int target_count,
                           const char *const *others)
{
    for (const char *const *other = others; other && *other; other++) {
        struct node *node = node_child(map, *other);
        if (node)
            node->used = true;
    }
    for (struct node *child = map->first; child; child = child->next) {
        if (child->used)
            continue;
        const char *nearest = nearest_key(child->key, targets, target_count, others);
        if (nearest)
            trouble_at_key(reader->troubles, reader->file, child,
                           "%s has no setting \"%.60s\"; do you mean \"%s\"?", section, child->key,
                           nearest);
        else
            trouble_at_key(reader->troubles, reader->file, child, "%s has no setting \"%.60s\"",
                           section, child->key);
    }
}

void read_section(const struct reader *reader, const char *section, struct node *map,
                  const struct target targets[], int target_count, const char *const *others)
{
    if (map && !want_kind(reader, map, NODE_MAP, "a group of settings"))
        return;
    for (int t = 0; t < target_count; t++)
        for (size_t k = 0; k < targets[t].rows->count; k++)
            read_row(reader, section, map, &targets[t].rows->row[k], targets[t].at);
    if (map)
        report_unknown(reader, section, map, targets, target_count, others);
}
