/* maps.c - which register maps a folder has, and which of them was meant.
 *
 * People know a meter by what is printed on it, "SDM630", not by the name of our file: so a
 * map is also near that has a part of the word in it. */
#include "maps.h"

#include <ctype.h>
#include <dirent.h>
#include <stdlib.h>
#include <string.h>

#include "read.h"
#include "sections.h"
#include "trouble_list.h"

/* A map's name is its file's without .yaml. */
static bool is_map(const struct dirent *entry, char name[static SETTINGS_NAME_MAX])
{
    size_t length = strlen(entry->d_name);
    if (length <= strlen(".yaml") || strcmp(entry->d_name + length - 5, ".yaml") != 0)
        return false;
    length -= strlen(".yaml");
    if (length >= SETTINGS_NAME_MAX)
        return false;
    memcpy(name, entry->d_name, length);
    name[length] = '\0';
    return is_name(name);
}

static int by_name(const void *a, const void *b)
{
    return strcmp(a, b);
}

int settings_maps_list(const char *folder, char names[][SETTINGS_NAME_MAX])
{
    const struct dirent *entry;
    DIR *open = opendir(folder);
    int count = 0;
    if (!open)
        return -1;
    while (count < SETTINGS_MAPS_MAX && (entry = readdir(open)))
        count += is_map(entry, names[count]);
    closedir(open);
    qsort(names, (size_t)count, SETTINGS_NAME_MAX, by_name);
    return count;
}

/* ---- which was meant ------------------------------------------------------------------------ */

/* Letters and digits alone, small: "SDM-630 V2" is sdm630v2. */
static void strip(const char *word, char stripped[static SETTINGS_NAME_MAX])
{
    size_t used = 0;
    for (; *word && used < SETTINGS_NAME_MAX - 1; word++)
        if (isalnum((unsigned char)*word))
            stripped[used++] = (char)tolower((unsigned char)*word);
    stripped[used] = '\0';
}

/* Whether a part of the word between hyphens, long enough to tell something, is in the name. */
static bool has_part(const char *name, const char *word)
{
    enum { TELLING = 3 };
    char whole[SETTINGS_NAME_MAX], part[SETTINGS_NAME_MAX], stripped[SETTINGS_NAME_MAX];
    strip(name, whole);
    strip(word, stripped);
    if (strlen(stripped) >= TELLING && strstr(whole, stripped))
        return true;
    for (const char *at = word; *at; at += strspn(at, "-_ ")) {
        size_t length = strcspn(at, "-_ ");
        char copy[SETTINGS_NAME_MAX];
        snprintf(copy, sizeof(copy), "%.*s", (int)length, at);
        strip(copy, part);
        if (strlen(part) >= TELLING && strcmp(part, "meter") != 0 && strstr(whole, part))
            return true;
        at += length;
    }
    return false;
}

static void list(char names[][SETTINGS_NAME_MAX], const bool taken[], int count, struct text *text)
{
    enum { ROOM = 72 }; /* for how many are left out */
    const char *comma = "";
    int left = 0;
    for (int k = 0; k < count; k++)
        left += taken[k];
    for (int k = 0; k < count; k++) {
        if (!taken[k])
            continue;
        if (text->size - text->used < strlen(names[k]) + ROOM) {
            text_add(text, " and %d more (`sluice meter maps` lists them all)", left);
            return;
        }
        text_add(text, "%s%s", comma, names[k]);
        comma = ", ";
        left--;
    }
}

void maps_hint(const char *name, const char *folder, struct text *text)
{
    char names[SETTINGS_MAPS_MAX][SETTINGS_NAME_MAX];
    const char *all[SETTINGS_MAPS_MAX + 1] = {"sunspec"};
    bool taken[SETTINGS_MAPS_MAX];
    int count = settings_maps_list(folder, names), near = 0;
    for (int k = 0; k < count; k++)
        all[k + 1] = names[k];
    const char *nearest = text_nearest(name, all, (size_t)(count < 0 ? 1 : count + 1));
    if (nearest) {
        text_add(text, "; do you mean \"%s\"?", nearest);
        return;
    }
    for (int k = 0; k < count; k++)
        near += taken[k] = has_part(names[k], name);
    if (count < 0)
        text_add(text, "; there is no such folder: `sluice check FILE --maps DIR` names another "
                       "(installed maps are in /etc/sluice/meters)");
    if (count <= 0)
        return;
    if (near == 0) {
        text_add(text, "; `sluice meter maps` lists all %d", count + 1);
        return;
    }
    text_add(text, "; near it: ");
    list(names, taken, count, text);
}
