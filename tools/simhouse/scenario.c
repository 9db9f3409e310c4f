/* A scenario is read line by line. "#" begins a comment; ";" begins a further
 * statement, which may leave out the first word where it is the same as before
 * ("use base 300 W; oven 17:30-18:15 2.4 kW"). "include" reads a file that many
 * scenarios share: a house; what happens and what must hold is the scenario's
 * own. The statements are rows in three tables: the house, its loads, the day. */
#include "scenario.h"

#include <string.h>

#include "statements.h"

static const struct statement_row *const tables[] = {house_statements, load_statements,
                                                     day_statements};

static const struct statement_row *statement_of(const char *word)
{
    for (size_t t = 0; t < sizeof(tables) / sizeof(tables[0]); t++)
        for (const struct statement_row *row = tables[t]; row->word; row++)
            if (strcmp(row->word, word) == 0)
                return row;
    return NULL;
}

static const char *nearest_statement(const char *word)
{
    const char *words[64];
    size_t count = 0;
    for (size_t t = 0; t < sizeof(tables) / sizeof(tables[0]); t++)
        for (const struct statement_row *row = tables[t]; row->word; row++)
            words[count++] = row->word;
    return text_nearest(word, words, count);
}

/* Where the reader is. */
struct place {
    const char *path;
    int line;
    bool included;
    const struct statement_row *last;
    FILE *to;
};

static int read_file(struct scenario *scenario, const char *path, bool included, FILE *to);

/* Beside the file that names it. */
static bool include(struct scenario *scenario, const struct place *place, struct cursor *cursor)
{
    char name[128], path[512];
    if (place->included)
        return trouble_set(cursor->trouble, "", "an included file includes no other");
    if (!cursor_word(cursor, name, sizeof(name), "a file's name"))
        return false;
    const char *slash = strrchr(place->path, '/');
    snprintf(path, sizeof(path), "%.*s%s", slash ? (int)(slash - place->path) + 1 : 0, place->path,
             name);
    return read_file(scenario, path, true, place->to) == 0 ||
           trouble_set(cursor->trouble, "", "\"%s\" can't be used", name);
}

static bool is_of_day(const struct statement_row *row)
{
    for (const struct statement_row *day = day_statements; day->word; day++)
        if (day == row)
            return true;
    return false;
}

static bool read_statement(struct scenario *scenario, struct cursor *cursor, struct place *place)
{
    struct trouble *trouble = cursor->trouble;
    if (cursor_ended(cursor))
        return true;
    if (cursor_match(cursor, "include"))
        return include(scenario, place, cursor);
    const struct statement_row *row = statement_of(cursor_peek(cursor));
    if (!row && !place->last) {
        const char *near = nearest_statement(cursor_peek(cursor));
        return trouble_set(trouble, "", "unknown statement \"%s\"%s%s%s", cursor_peek(cursor),
                           near ? "; did you mean \"" : "", near ? near : "", near ? "\"?" : "");
    }
    if (place->included && is_of_day(row ? row : place->last))
        return trouble_set(trouble, "", "\"%s\" belongs in the scenario itself",
                           row ? row->word : place->last->word);
    if (row) {
        cursor->next++;
        place->last = row;
    }
    if (!place->last->read(scenario, cursor, place->line))
        return false;
    return cursor_ended(cursor) || cursor_fail(cursor, "the end of the statement");
}

/* At the word that is not understood: false, and it is told. */
static bool read_piece(struct scenario *scenario, const char *piece, int before,
                       struct place *place)
{
    struct trouble trouble;
    struct cursor cursor;
    if (cursor_split(&cursor, piece, &trouble) && read_statement(scenario, &cursor, place))
        return true;
    fprintf(place->to, "%s:%d:%d: %s\n", place->path, place->line,
            before + cursor_column(&cursor) + 1, trouble.text);
    return false;
}

static void cut_comment(char *text)
{
    for (char *at = text; *at; at++) {
        if (*at == '#' && (at == text || at[-1] == ' ' || at[-1] == '\t')) {
            *at = '\0';
            return;
        }
    }
}

static int read_line(struct scenario *scenario, char *text, struct place *place)
{
    int mistakes = 0;
    place->last = NULL;
    cut_comment(text);
    /* A command is the shell's, with its semicolons. */
    bool whole = strncmp(text, "at ", 3) == 0 && strstr(text, " run ") != NULL;
    for (char *piece = text; piece;) {
        char *end = whole ? NULL : strchr(piece, ';');
        if (end)
            *end = '\0';
        mistakes += !read_piece(scenario, piece, (int)(piece - text), place);
        piece = end ? end + 1 : NULL;
    }
    return mistakes;
}

/* How many mistakes. */
static int read_file(struct scenario *scenario, const char *path, bool included, FILE *to)
{
    FILE *file = fopen(path, "re");
    if (!file) {
        fprintf(to, "%s: %m\n", path);
        return 1;
    }
    char text[1024];
    int mistakes = 0;
    struct place place = {.path = path, .included = included, .to = to};
    while (fgets(text, sizeof(text), file)) {
        place.line++;
        mistakes += read_line(scenario, text, &place);
    }
    fclose(file);
    return mistakes;
}

static void defaults(struct scenario *scenario)
{
    *scenario = (struct scenario){
        .house = world_usual(),
        .length_ms = MS_PER_DAY,
        .step_ms = MS_PER_S,
        .meter_model = 203,
    };
}

/* Pressed for a moment is for so long that whoever looks each step sees it. */
static void let_go_after_a_step(struct scenario *scenario)
{
    for (int i = 0; i < scenario->event_count; i++)
        if (scenario->event[i].kind == EVENT_LET_GO)
            scenario->event[i].at_ms += scenario->step_ms;
}

static void sort_events(struct scenario *scenario)
{
    for (int i = 1; i < scenario->event_count; i++) {
        struct event event = scenario->event[i];
        int at = i;
        for (; at > 0 && scenario->event[at - 1].at_ms > event.at_ms; at--)
            scenario->event[at] = scenario->event[at - 1];
        scenario->event[at] = event;
    }
}

bool scenario_read(struct scenario *scenario, const char *path, FILE *to)
{
    defaults(scenario);
    int mistakes = read_file(scenario, path, false, to);
    if (!scenario->has_start && mistakes == 0) {
        fprintf(to, "%s:1:1: no \"start\": a day needs a date, such as start 2026-01-14 00:00\n",
                path);
        mistakes++;
    }
    let_go_after_a_step(scenario);
    sort_events(scenario);
    scenario->house.household.phase_count = scenario->house.grid.phase_count;
    return mistakes == 0;
}
