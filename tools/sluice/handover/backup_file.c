/* backup_file.c - names of parts and their places, manifest and sums. */
#include "backup_file.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "sha256.h"
#include "sluice/path.h"

enum { FORMAT = 1 };

static const char first_line[] = "sluice backup, format ";
static const char manifest_name[] = "MANIFEST", sums_name[] = "SHA256SUMS";

/* ---- places ------------------------------------------------------------------------------- */

bool board_place(struct board *board, const char *settings_path, const char *maps,
                 const char *state, const struct settings *settings)
{
    char folder[BACKUP_PATH_MAX];
    struct text to_maps = text_in(board->maps, sizeof(board->maps));
    struct text to_state = text_in(board->state, sizeof(board->state));
    board->settings_path = settings_path;
    path_folder(settings_path, folder, sizeof(folder));
    text_add(&to_maps, maps ? "%s" : "%s/meters", maps ? maps : folder);
    path_folder(settings->ledger.path, folder, sizeof(folder));
    text_add(&to_state, "%s", state ? state : folder);
    return !to_maps.full && !to_state.full;
}

#define BROKER_FILE(field) offsetof(struct mqtt_settings, field)
const struct broker_file broker_files[4] = {
    {"broker/ca", "the certificate that signed the broker's", false, BROKER_FILE(ca_file)},
    {"broker/certificate", "the broker's certificate of this board", false,
     BROKER_FILE(certificate_file)},
    {"secrets/password", "the broker's password", true, BROKER_FILE(password_file)},
    {"secrets/key", "the private key for the broker", true, BROKER_FILE(key_file)},
};

const char *broker_file_path(const struct broker_file *file, const struct mqtt_settings *mqtt)
{
    return (const char *)mqtt + file->offset;
}

bool backup_place(const char *part, const struct board *board, const struct settings *settings,
                  char path[static BACKUP_PATH_MAX])
{
    char folder[BACKUP_PATH_MAX];
    struct text text = text_in(path, BACKUP_PATH_MAX);
    path_folder(settings->ledger.path, folder, sizeof(folder));
    if (strcmp(part, "settings/sluice.yaml") == 0)
        text_add(&text, "%s", board->settings_path);
    else if (strcmp(part, "state/ledger.db") == 0)
        text_add(&text, "%s", settings->ledger.path);
    else if (strcmp(part, "state/orders") == 0)
        text_add(&text, "%s.orders", settings->ledger.path);
    else if (strcmp(part, "state/broker") == 0)
        text_add(&text, "%s/broker", folder);
    return text.used > 0 && !text.full;
}

const char *backup_map_name(const char *part, const char *folder)
{
    static const char end[] = ".yaml", usual[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRST"
                                                 "UVWXYZ0123456789._-";
    size_t length = strlen(folder);
    if (strncmp(part, folder, length) != 0)
        return NULL;
    const char *name = part + length;
    size_t size = strlen(name);
    bool ok = size > strlen(end) && strcmp(name + size - strlen(end), end) == 0 && name[0] != '.' &&
              strspn(name, usual) == size;
    return ok ? name : NULL;
}

/* ---- the manifest --------------------------------------------------------------------------- */

static void write_moment(const char *key, int64_t at_s, struct text *text)
{
    char moment[32];
    time_t at = (time_t)at_s;
    struct tm utc;
    if (at_s == 0 || !gmtime_r(&at, &utc))
        return;
    strftime(moment, sizeof(moment), "%Y-%m-%dT%H:%M:%SZ", &utc);
    text_add(text, "%s %s\n", key, moment);
}

void backup_write_manifest(const struct backup_manifest *manifest, struct text *text)
{
    text_add(text, "%s%d\nprogram %s\n", first_line, FORMAT, manifest->program);
    write_moment("made", manifest->made_s, text);
    write_moment("saved", manifest->saved.ms / MS_PER_S, text);
    text_add(text, "secrets %s\nsite %s\n", manifest->with_secrets ? "yes" : "left out",
             manifest->site);
}

/* What follows "KEY " at the beginning of a line. */
static const char *find_line(const struct part *part, const char *key, size_t *length)
{
    const char *at = (const char *)part->bytes, *end = at + part->size;
    size_t key_length = strlen(key);
    while (at < end) {
        const char *feed = memchr(at, '\n', (size_t)(end - at));
        size_t size = (size_t)((feed ? feed : end) - at);
        if (size > key_length && memcmp(at, key, key_length) == 0 && at[key_length] == ' ') {
            *length = size - key_length - 1;
            return at + key_length + 1;
        }
        at += size + 1;
    }
    return NULL;
}

void backup_line(const struct archive *archive, const char *key, struct text *text)
{
    const struct part *part = archive_find(archive, manifest_name);
    size_t length = 0;
    const char *value = part ? find_line(part, key, &length) : NULL;
    if (value)
        text_add_foreign(text, value, length);
}

/* "0.10.2" is newer than "0.9". */
static bool is_newer(const char *version, const char *than)
{
    while (*version || *than) {
        char *rest, *than_rest;
        unsigned long a = strtoul(version, &rest, 10), b = strtoul(than, &than_rest, 10);
        if (a != b)
            return a > b;
        version = *rest == '.' ? rest + 1 : "";
        than = *than_rest == '.' ? than_rest + 1 : "";
    }
    return false;
}

static bool check_manifest(const struct archive *archive, const char *program,
                           struct trouble *trouble)
{
    char writer[32];
    struct text text = text_in(writer, sizeof(writer));
    const struct part *part = archive->count > 0 ? &archive->part[0] : NULL;
    size_t length = strlen(first_line);
    if (!part || strcmp(part->name, manifest_name) != 0 || part->size <= length ||
        memcmp(part->bytes, first_line, length) != 0)
        return trouble_set(trouble, "", "it is not a backup of sluice");
    unsigned format = 0;
    for (size_t k = length;
         k < part->size && part->bytes[k] >= '0' && part->bytes[k] <= '9' && format < 1000; k++)
        format = format * 10 + (unsigned)(part->bytes[k] - '0');
    backup_line(archive, "program", &text);
    if (format == 0 || writer[0] == '\0')
        return trouble_set(trouble, "", "its manifest is damaged");
    if (format > FORMAT || is_newer(writer, program))
        return trouble_set(trouble, "",
                           "it was made by sluice %s, which is newer than this one, %s: install "
                           "that version or a later one first",
                           writer, program);
    return true;
}

/* ---- the sums ------------------------------------------------------------------------------- */

static void write_sum(const struct part *part, struct text *text)
{
    char sum[SHA256_TEXT_SIZE];
    sha256_text(part->bytes, part->size, sum);
    text_add(text, "%s  %s\n", sum, part->name);
}

void backup_write_sums(const struct archive *archive, struct text *text)
{
    for (int k = 0; k < archive->count; k++)
        write_sum(&archive->part[k], text);
}

/* The sums are written anew, and must come to the same text: none missing, none too many. */
static bool check_sums(const struct archive *archive, struct trouble *trouble)
{
    static char sums[BACKUP_SUMS_MAX];
    char shown[TEXT_SHORT_SIZE];
    struct text text = text_in(sums, sizeof(sums));
    const struct part *last = &archive->part[archive->count - 1];
    if (strcmp(last->name, sums_name) != 0)
        return trouble_set(trouble, "", "its sums are missing");
    const char *at = (const char *)last->bytes;
    size_t left = last->size;
    for (int k = 0; k < archive->count - 1; k++) {
        text = text_in(sums, sizeof(sums));
        write_sum(&archive->part[k], &text);
        if (left < text.used || memcmp(at, sums, text.used) != 0)
            return trouble_set(trouble, "",
                               "\"%s\" is not as it was when the backup was made (SHA-256)",
                               text_shorten(shown, archive->part[k].name));
        at += text.used;
        left -= text.used;
    }
    return left == 0 || trouble_set(trouble, "", "its sums name more than it holds");
}

bool backup_check(const struct archive *archive, const char *program, struct trouble *trouble)
{
    return check_manifest(archive, program, trouble) && check_sums(archive, trouble);
}
