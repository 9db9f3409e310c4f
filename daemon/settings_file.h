/* settings_file.h - the settings file at hand, and which settings a start takes. */
#ifndef SLUICE_DAEMON_SETTINGS_FILE_H
#define SLUICE_DAEMON_SETTINGS_FILE_H

#include "common.h"

/* Of a file and why it looks cut off. */
#define SETTINGS_LOOK_CUT "%s: %s If it is meant: sluice reload --yes"

/* Where settings come from; NULL where there is none: then `maps` lie beside the file, and
 * nothing is kept in `state_dir`. */
struct settings_place {
    const char *file, *maps, *state_dir;
};

struct settings_choice {
    struct settings *settings;      /* NULL: none is accepted; all that is wrong is logged */
    bool last_accepted;             /* and not the file at hand, */
    struct wall at;                 /* accepted then; 0: not known */
    char refusal[TROUBLE_TEXT_MAX]; /* because of this */
};

/* NULL where anything is wrong, as `troubles` says; what is no file is not waited for. What may
 * be right but should be looked at is logged. */
struct settings *settings_file_read(const char *file, const char *maps,
                                    struct settings_troubles *troubles);

/* For a start: the file at hand; where it is refused, or looks cut off beside those, the
 * last accepted settings. */
void settings_choose(const struct settings_place *place, struct settings_choice *choice);

/* For the stop helper: what the daemon that has gone had in force. */
void settings_choose_last(const struct settings_place *place, struct settings_choice *choice);

/* Says, or says no more, that others can read a password or key. */
void settings_tell_secrets(struct common *common);

#endif
