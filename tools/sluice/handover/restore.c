/* restore.c - `sluice restore FILE`: a fresh board takes over from the one that the backup was
 * made of. Everything is looked through before anything is changed. */
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include "backup_file.h"
#include "handover.h"
#include "ledger/copy.h"
#include "replace.h"
#include "sluice/live/control.h"
#include "sluice/options.h"
#include "sluice/path.h"
#include "sluice/setup/read_settings.h"

const char restore_help[] =
    "  A backup that is damaged, cut off, changed, of a newer sluice or of something\n"
    "  else is refused, and so is a board on which sluiced runs; then nothing is\n"
    "  changed.\n"
    "  Otherwise what it replaces stays beside it as NAME.before.\n"
    "    --settings FILE   where the settings go (/etc/sluice/sluice.yaml)\n"
    "    --maps DIR        where the maps go; default: meters, beside the settings\n"
    "    --state DIR       the daemon's state directory; default: the ledger's folder\n"
    "  The ledger goes where the backup's settings say (storage.path), if that is in\n"
    "  /var/lib/sluice, in DIR, or where the ledger of this board's own settings is.\n";

#define STATE_DEFAULT "/var/lib/sluice"

struct restore {
    struct board board;
    const char *file, *maps, *state, *socket;
    struct archive archive;
    struct settings *settings;
    struct settings *present; /* this board's own so far; NULL: none that are sound */
    struct replacing replacing;
};

static enum status refuse(const struct restore *restore, const char *why)
{
    return complain(STATUS_REFUSED, "\"%s\": %s; nothing was changed", restore->file, why);
}

/* ---- what the backup holds ------------------------------------------------------------------- */

static const char accepted_prefix[] = "state/accepted/", accepted_maps[] = "state/accepted/meters/",
                  settings_maps[] = "settings/meters/";

static const struct broker_file *find_broker_file(const char *part)
{
    for (size_t k = 0; k < 4; k++)
        if (strcmp(broker_files[k].part, part) == 0)
            return &broker_files[k];
    return NULL;
}

static bool is_known(const char *part)
{
    static const char *const names[] = {
        "MANIFEST",     "SHA256SUMS",   "settings/sluice.yaml",      "state/ledger.db",
        "state/orders", "state/broker", "state/accepted/sluice.yaml"};
    for (size_t k = 0; k < sizeof(names) / sizeof(names[0]); k++)
        if (strcmp(part, names[k]) == 0)
            return true;
    return find_broker_file(part) || backup_map_name(part, settings_maps) ||
           backup_map_name(part, accepted_maps);
}

static bool check_names(const struct archive *archive, struct trouble *trouble)
{
    char shown[TEXT_SHORT_SIZE];
    for (int k = 0; k < archive->count; k++)
        if (!is_known(archive->part[k].name))
            return trouble_set(trouble, "", "\"%s\" is no part of a backup",
                               text_shorten(shown, archive->part[k].name));
    return archive_find(archive, "settings/sluice.yaml") ||
           trouble_set(trouble, "", "it holds no settings");
}

/* Whoever made the archive could write in it whatever they liked: here nobody gets a right by
 * it. Files then become those of whoever owns the folder that they go into. */
static void take_no_rights(struct archive *archive)
{
    for (int k = 0; k < archive->count; k++) {
        struct part *part = &archive->part[k];
        const struct broker_file *file = find_broker_file(part->name);
        bool of_state = strncmp(part->name, "state/", strlen("state/")) == 0;
        part->mode &= file && file->secret ? 0600 : of_state ? 0640 : 0644;
    }
}

/* ---- its settings ---------------------------------------------------------------------------- */

static bool unpack_settings(const struct restore *restore, const char *folder,
                            struct trouble *trouble)
{
    char path[BACKUP_PATH_MAX];
    snprintf(path, sizeof(path), "%s/meters", folder);
    if (!replace_make_folder(NULL, path, trouble))
        return false;
    for (int k = 0; k < restore->archive.count; k++) {
        const struct part *part = &restore->archive.part[k];
        static const char prefix[] = "settings/";
        if (strncmp(part->name, prefix, strlen(prefix)) != 0)
            continue;
        snprintf(path, sizeof(path), "%s/%s", folder, part->name + strlen(prefix));
        if (!replace_write(path, part, trouble))
            return false;
    }
    return true;
}

/* Settings that sluiced would refuse here (no such time zone, for one) are not put in place. */
static enum status load_settings(struct restore *restore)
{
    const char *temporary = getenv("TMPDIR");
    char folder[128], path[160];
    struct trouble trouble;
    enum status status = STATUS_NOT_THERE;
    snprintf(folder, sizeof(folder), "%.90s/sluice-restore-XXXXXX",
             temporary && *temporary ? temporary : "/tmp");
    if (!mkdtemp(folder))
        return complain(STATUS_NOT_THERE, "\"%s\" cannot be made: %m", folder);
    snprintf(path, sizeof(path), "%s/sluice.yaml", folder);
    if (unpack_settings(restore, folder, &trouble))
        restore->settings = read_settings(path, NULL, NULL, &status);
    else
        complain(STATUS_NOT_THERE, "%s", trouble.text);
    replace_remove_folder(folder);
    if (!restore->settings && status == STATUS_REFUSED)
        return refuse(restore, "its settings are refused, as said above");
    return restore->settings ? STATUS_DONE : status;
}

/* ---- where its state may go ------------------------------------------------------------------ */

static bool is_folder_of(const char *path, const char *folder)
{
    char of_file[BACKUP_PATH_MAX];
    size_t length = strlen(folder);
    path_folder(path, of_file, sizeof(of_file));
    while (length > 1 && folder[length - 1] == '/')
        length--;
    return strlen(of_file) == length && strncmp(of_file, folder, length) == 0;
}

static bool is_state_folder(const struct restore *restore, const char *of_file)
{
    char present[BACKUP_PATH_MAX] = "";
    if (restore->present)
        path_folder(restore->present->ledger.path, present, sizeof(present));
    return is_folder_of(of_file, STATE_DEFAULT) ||
           (restore->state && is_folder_of(of_file, restore->state)) ||
           (present[0] && is_folder_of(of_file, present));
}

/* A backup says by its settings where the ledger goes, and must not be able to say just
 * anywhere. */
static bool check_place(const struct restore *restore, struct trouble *trouble)
{
    char folder[BACKUP_PATH_MAX], shown[TEXT_SHORT_SIZE];
    const char *ledger = restore->settings->ledger.path;
    if (is_state_folder(restore, ledger))
        return true;
    path_folder(ledger, folder, sizeof(folder));
    return trouble_set(trouble, "",
                       "its settings keep the ledger in \"%s\", which is not this board's state "
                       "folder: if it is to be, give it as --state",
                       text_shorten(shown, folder));
}

/* ---- written beside their places ------------------------------------------------------------- */

static bool stage_maps(struct restore *restore, struct trouble *trouble)
{
    for (int k = 0; k < restore->archive.count; k++) {
        const struct part *part = &restore->archive.part[k];
        const char *name = backup_map_name(part->name, settings_maps);
        char path[BACKUP_PATH_MAX + ARCHIVE_NAME_MAX];
        snprintf(path, sizeof(path), "%s/%s", restore->board.maps, name ? name : "");
        if (name && !replace_stage(&restore->replacing, path, part, trouble))
            return false;
    }
    return true;
}

/* What the backup lacks must not be taken from another board's past either. */
static bool stage_place(struct restore *restore, const char *name, struct trouble *trouble)
{
    char path[BACKUP_PATH_MAX];
    const struct part *part = archive_find(&restore->archive, name);
    if (!backup_place(name, &restore->board, restore->settings, path))
        return trouble_set(trouble, "", "a path is too long");
    return part ? replace_stage(&restore->replacing, path, part, trouble)
                : replace_remove(&restore->replacing, path, NULL, "", trouble);
}

static bool stage_ledger(struct restore *restore, struct trouble *trouble)
{
    static const char *const ends[] = {"-wal", "-shm"};
    const char *ledger = restore->settings->ledger.path;
    if (!stage_place(restore, "state/ledger.db", trouble))
        return false;
    for (size_t k = 0; k < 2; k++) {
        char path[BACKUP_PATH_MAX];
        snprintf(path, sizeof(path), "%s%s", ledger, ends[k]);
        if (!replace_remove(&restore->replacing, path, ledger, ends[k], trouble))
            return false;
    }
    return true;
}

static bool fill_accepted(const struct restore *restore, const char *folder,
                          struct trouble *trouble)
{
    char path[REPLACE_PATH_MAX + ARCHIVE_NAME_MAX];
    snprintf(path, sizeof(path), "%s/meters", folder);
    if (!replace_make_folder(NULL, path, trouble))
        return false;
    for (int k = 0; k < restore->archive.count; k++) {
        const struct part *part = &restore->archive.part[k];
        if (strncmp(part->name, accepted_prefix, strlen(accepted_prefix)) != 0)
            continue;
        snprintf(path, sizeof(path), "%s/%s", folder, part->name + strlen(accepted_prefix));
        if (!replace_write(path, part, trouble))
            return false;
    }
    return true;
}

/* As a folder, as the daemon moves it: with those of another house beside it, the restored
 * settings would look cut off. */
static bool stage_accepted(struct restore *restore, struct trouble *trouble)
{
    const struct part *part = archive_find(&restore->archive, "state/accepted/sluice.yaml");
    char path[BACKUP_PATH_MAX + 16], staged[REPLACE_PATH_MAX];
    snprintf(path, sizeof(path), "%s/accepted.old", restore->board.state);
    if (!replace_remove(&restore->replacing, path, NULL, "", trouble))
        return false;
    snprintf(path, sizeof(path), "%s/accepted", restore->board.state);
    if (!part)
        return replace_remove(&restore->replacing, path, NULL, "", trouble);
    return replace_stage_folder(&restore->replacing, path, staged, trouble) &&
           fill_accepted(restore, staged, trouble);
}

/* Only into the settings' own folder: a backup says by its settings where these files go, and
 * must not be able to say just anywhere. */
static bool is_ours(const struct restore *restore, const char *path)
{
    char folder[BACKUP_PATH_MAX], of_file[BACKUP_PATH_MAX];
    path_folder(restore->board.settings_path, folder, sizeof(folder));
    path_folder(path, of_file, sizeof(of_file));
    return path[0] == '/' && strcmp(folder, of_file) == 0;
}

static bool stage_broker_files(struct restore *restore, struct trouble *trouble)
{
    for (size_t k = 0; k < 4; k++) {
        const char *path = broker_file_path(&broker_files[k], &restore->settings->mqtt);
        const struct part *part = archive_find(&restore->archive, broker_files[k].part);
        if (part && is_ours(restore, path) &&
            !replace_stage(&restore->replacing, path, part, trouble))
            return false;
    }
    return true;
}

static bool check_ledger(const struct restore *restore, struct trouble *trouble)
{
    struct wall saved;
    const char *staged = replace_staged(&restore->replacing, restore->settings->ledger.path);
    struct trouble why;
    return !staged || !staged[0] || ledger_is_sound(staged, &saved, &why) ||
           trouble_set(trouble, "", "its ledger: %.200s", why.text);
}

static bool stage_all(struct restore *restore, struct trouble *trouble)
{
    return stage_ledger(restore, trouble) && check_ledger(restore, trouble) &&
           stage_place(restore, "state/orders", trouble) &&
           stage_place(restore, "state/broker", trouble) && stage_accepted(restore, trouble) &&
           stage_maps(restore, trouble) && stage_broker_files(restore, trouble) &&
           stage_place(restore, "settings/sluice.yaml", trouble);
}

/* ---- what was done, and what is left ------------------------------------------------------------
 */

static void tell_moves(const struct restore *restore)
{
    for (int k = 0; k < restore->replacing.count; k++) {
        const struct move *move = &restore->replacing.move[k];
        if (move->same)
            printf("  %s: the same already\n", move->place);
        else if (move->placed && move->before[0])
            printf("  %s: restored; what was there is %s\n", move->place, move->before);
        else if (move->placed)
            printf("  %s: restored\n", move->place);
        else if (move->put_aside)
            printf("  %s: not in the backup; what was there is %s\n", move->place, move->before);
    }
}

static void tell_port(const char *port, const char *whose)
{
    if (port[0] && access(port, F_OK) != 0)
        printf("  - %s, %s, is not there: plug the adapter in, and give it that name "
               "(60-sluice.rules)\n",
               port, whose);
}

static void tell_broker_files(const struct restore *restore)
{
    for (size_t k = 0; k < 4; k++) {
        const struct broker_file *file = &broker_files[k];
        const char *path = broker_file_path(file, &restore->settings->mqtt);
        bool held = archive_find(&restore->archive, file->part) != NULL;
        if (!path[0] || (held && is_ours(restore, path)) || access(path, F_OK) == 0)
            continue;
        printf("  - %s, %s, is not there: %s\n", file->what, path,
               held ? "take it from the backup with tar; it goes outside the settings' folder"
                    : "it is not in the backup; put it there, for its user alone");
    }
}

/* sluiced is none of the folder's owners' where root has /etc: that is said, not found out. */
static void tell_secrets(const struct restore *restore)
{
    for (size_t k = 0; k < 4; k++) {
        const struct broker_file *file = &broker_files[k];
        const char *path = broker_file_path(file, &restore->settings->mqtt);
        if (file->secret && archive_find(&restore->archive, file->part) && is_ours(restore, path))
            printf("  - %s, %s, is for its owner alone: see that sluiced can read it\n", file->what,
                   path);
    }
}

static void tell_left(const struct restore *restore)
{
    const struct settings *settings = restore->settings;
    char whose[64];
    puts("Left to do:");
    puts("  - take the old board off the bus and its outputs first: two must not switch the same "
         "loads");
    for (uint8_t k = 0; k < settings->bus_count; k++) {
        snprintf(whose, sizeof(whose), "the port of bus %s", settings->buses[k].name);
        tell_port(settings->buses[k].port, whose);
    }
    tell_port(settings->gateway.enabled ? settings->gateway.port : "", "the gateway's port");
    tell_broker_files(restore);
    tell_secrets(restore);
    puts("  - start sluiced (systemctl enable --now sluiced), look at sluice status, and switch "
         "each\n    load once: sluice on LOAD 5 min. Loads may start by themselves from then on.");
}

static void tell(const struct restore *restore)
{
    char made[40], program[40], site[80], saved[40] = "";
    struct text to_made = text_in(made, sizeof(made)), to_site = text_in(site, sizeof(site));
    struct text to_program = text_in(program, sizeof(program));
    struct text to_saved = text_in(saved, sizeof(saved));
    backup_line(&restore->archive, "made", &to_made);
    backup_line(&restore->archive, "program", &to_program);
    backup_line(&restore->archive, "site", &to_site);
    backup_line(&restore->archive, "saved", &to_saved);
    printf("%s: the backup of %s, made by sluice %s, is in place\n", site, made, program);
    tell_moves(restore);
    if (saved[0])
        printf("  counters, learning and orders go on from %s\n", saved);
    tell_left(restore);
}

/* ---- all ----------------------------------------------------------------------------------------
 */

static bool is_answered(const char *socket)
{
    struct trouble trouble;
    char *answer = control_ask(socket, "status", &trouble);
    free(answer);
    return answer != NULL;
}

static enum status refuse_running(const struct restore *restore)
{
    return refuse(restore, "sluiced runs here: stop it first (systemctl stop sluiced)");
}

/* Whether a daemon has the ledger that is this board's so far, which the backup's settings need
 * not name. Let go at once: it may be the one that is to be held. */
static bool is_own_ledger_held(const struct settings *present)
{
    struct ledger_hold hold;
    bool held = present && !ledger_hold(present->ledger.path, &hold);
    if (present)
        ledger_let_go(present->ledger.path, &hold);
    return held;
}

static bool is_any_answered(const struct restore *restore)
{
    return is_answered(restore->socket) || is_answered(restore->settings->control_socket) ||
           (restore->present && is_answered(restore->present->control_socket));
}

/* With the ledger held, no daemon can begin in the midst of it. */
static enum status replace_all(struct restore *restore)
{
    struct trouble trouble;
    if (!stage_all(restore, &trouble) || !replace_commit(&restore->replacing, &trouble))
        return refuse(restore, trouble.text);
    tell(restore);
    return STATUS_DONE;
}

static enum status hold_and_replace(struct restore *restore)
{
    const char *ledger = restore->settings->ledger.path;
    struct ledger_hold hold;
    bool held = ledger_hold(ledger, &hold);
    enum status status;
    if (!held || is_any_answered(restore))
        status = refuse_running(restore);
    else
        status = replace_all(restore);
    ledger_let_go(ledger, &hold);
    return status;
}

/* The lock lies in the ledger's folder, which comes first. */
static enum status make_folder_and_replace(struct restore *restore)
{
    char folder[BACKUP_PATH_MAX];
    struct trouble trouble;
    if (is_own_ledger_held(restore->present))
        return refuse_running(restore);
    path_folder(restore->settings->ledger.path, folder, sizeof(folder));
    bool made = replace_make_folder(&restore->replacing, folder, &trouble);
    enum status status = made ? hold_and_replace(restore) : refuse(restore, trouble.text);
    replace_drop(&restore->replacing);
    return status;
}

static enum status restore_checked(struct restore *restore, const char *settings_path)
{
    struct trouble trouble;
    if (!backup_check(&restore->archive, SLUICE_VERSION, &trouble) ||
        !check_names(&restore->archive, &trouble))
        return refuse(restore, trouble.text);
    take_no_rights(&restore->archive);
    enum status status = load_settings(restore);
    if (status != STATUS_DONE)
        return status;
    if (!board_place(&restore->board, settings_path, restore->maps, restore->state,
                     restore->settings))
        return complain(STATUS_USAGE, "a folder's name is too long");
    restore->present = read_settings_if_sound(settings_path, restore->maps);
    if (!check_place(restore, &trouble))
        return refuse(restore, trouble.text);
    return make_folder_and_replace(restore);
}

static enum status restore_bytes(struct restore *restore, const char *settings_path,
                                 const unsigned char *bytes, size_t size)
{
    struct trouble trouble;
    if (!archive_read(&restore->archive, bytes, size, &trouble))
        return refuse(restore, trouble.text);
    enum status status = restore_checked(restore, settings_path);
    settings_free(restore->settings);
    settings_free(restore->present);
    return status;
}

enum status restore_main(struct invocation *at, int argc, char *argv[])
{
    static struct restore restore;
    const char *settings = SETTINGS_DEFAULT;
    const struct option_row rows[] = {{"--settings", &settings, NULL, "where the settings go"},
                                      {"--maps", &restore.maps, NULL, "where the maps go"},
                                      {"--state", &restore.state, NULL, "the state directory"},
                                      {0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 1)
        return complain_usage(at, "restore");
    umask(027);
    restore.file = argv[1];
    restore.socket = at->socket;
    int fd = open(restore.file, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    struct stat found;
    if (fd < 0 || fstat(fd, &found) != 0)
        return complain(STATUS_NOT_THERE, "\"%s\" cannot be read: %m", restore.file);
    if (!S_ISREG(found.st_mode) || found.st_size == 0)
        return refuse(&restore, S_ISREG(found.st_mode) ? "it is empty" : "it is not a file");
    size_t size = (size_t)found.st_size;
    void *bytes = mmap(NULL, size, PROT_READ, MAP_PRIVATE, fd, 0);
    close(fd);
    if (bytes == MAP_FAILED)
        return complain(STATUS_NOT_THERE, "\"%s\" cannot be read: %m", restore.file);
    enum status status = restore_bytes(&restore, settings, bytes, size);
    munmap(bytes, size);
    return status;
}
