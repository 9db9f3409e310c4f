/* options.c - an option is "--name", "--name VALUE" or "--name=VALUE"; "--" ends them.
 *
 * Two passes would be simpler to think of, one is enough: words are moved forward
 * in argv as options between them are taken out. */
#include "options.h"

#include <stdio.h>
#include <string.h>

#include "core/text.h"
#include "help.h"

enum { ROWS_MAX = 40, COMPLAINED = -1, HELPED = -2 };

static size_t count_rows(const struct option_row rows[])
{
    size_t count = 0;
    while (rows[count].name)
        count++;
    return count;
}

static const struct option_row *find(const struct option_row rows[], const char *word)
{
    size_t length = strcspn(word, "=");
    for (; rows->name; rows++)
        if (strlen(rows->name) == length && strncmp(rows->name, word, length) == 0)
            return rows;
    return NULL;
}

static int complain_unknown(const struct option_row rows[], const char *word)
{
    const char *names[ROWS_MAX];
    char bare[64];
    snprintf(bare, sizeof(bare), "%.*s", (int)strcspn(word, "="), word);
    size_t count = count_rows(rows);
    for (size_t k = 0; k < count; k++)
        names[k] = rows[k].name;
    const char *nearest = text_nearest(bare, names, count);
    if (nearest)
        complain(STATUS_USAGE, "\"%s\" is not an option here; do you mean \"%s\"?", word, nearest);
    else
        complain(STATUS_USAGE, "\"%s\" is not an option here", word);
    return COMPLAINED;
}

/* Takes the option at argv[at]. Returns how many of argv it used, or COMPLAINED. */
static int take(const struct option_row rows[], int argc, char *argv[], int at)
{
    const struct option_row *row = find(rows, argv[at]);
    if (!row)
        return complain_unknown(rows, argv[at]);
    const char *value = strchr(argv[at], '=');
    if (row->flag && value) {
        complain(STATUS_USAGE, "\"%s\": %s takes no value", argv[at], row->name);
        return COMPLAINED;
    }
    if (row->flag) {
        *row->flag = true;
        return 1;
    }
    if (!value && at + 1 == argc) {
        complain(STATUS_USAGE, "%s needs %s after it", row->name, row->expected);
        return COMPLAINED;
    }
    *row->value = value ? value + 1 : argv[at + 1];
    return value ? 1 : 2;
}

/* The rows given, and those that every sub-command has. */
static void with_common(struct invocation *at, bool *help, const struct option_row rows[],
                        struct option_row all[ROWS_MAX])
{
    size_t count = count_rows(rows);
    memcpy(all, rows, count * sizeof(rows[0]));
    all[count++] = (struct option_row){"--socket", &at->socket, NULL, "the socket's path"};
    all[count++] = (struct option_row){"--help", NULL, help, NULL};
    all[count] = (struct option_row){0};
}

int options_read(struct invocation *at, const struct option_row rows[], int argc, char *argv[])
{
    struct option_row all[ROWS_MAX];
    bool help = false, ended = false;
    int words = 0;
    with_common(at, &help, rows, all);
    for (int k = 1; k < argc;) {
        if (!ended && strcmp(argv[k], "--") == 0) {
            ended = true;
            k++;
        } else if (ended || argv[k][0] != '-' || argv[k][1] == '\0') {
            argv[++words] = argv[k++];
        } else {
            int used = take(all, argc, argv, k);
            if (used < 0)
                return COMPLAINED;
            k += used;
        }
    }
    if (!help)
        return words;
    help_one(at, argv[0]);
    return HELPED;
}

enum status options_status(int words)
{
    return words == HELPED ? STATUS_DONE : STATUS_USAGE;
}

int options_before_command(struct invocation *at, int argc, char *argv[])
{
    bool help = false, version = false;
    const struct option_row rows[] = {{"--version", NULL, &version, NULL}, {0}};
    struct option_row all[ROWS_MAX];
    with_common(at, &help, rows, all);
    int k = 1;
    while (k < argc && argv[k][0] == '-' && !help && !version) {
        int used = take(all, argc, argv, k);
        if (used < 0)
            return COMPLAINED;
        k += used;
    }
    /* Both are words of the table under another spelling. */
    if (help)
        argv[--k] = (char *)"help";
    if (version)
        argv[--k] = (char *)"version";
    return k;
}
