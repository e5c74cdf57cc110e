//! Who may sign what: public keys, roles, the roster, and the signatures themselves.
//!
//! In: bytes of keys, rosters and signatures. Out: typed values that exist only if they are good.
//! Always: verification is strict (`verify_strict`, no weak key, canonical base64).
//! Not here: reading key files from disk (`disk`), what a role is asked for (`record::kinds`).

pub mod alike;
pub mod allowed;
pub mod changes;
pub mod key;
pub mod roster;
pub mod sshsig;
pub mod succession;
pub mod token;

pub use key::{PublicKey, SecretKey, Signer};
pub use roster::Roster;

/// What a person may sign as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Answers for the air; declares and hands back.
    Operator,
    /// Issues, refuses, closes, cancels.
    Supervisor,
    /// Stands at the set or the entry.
    Attendant,
    /// Reads and verifies.
    Auditor,
    /// Begins a register at a station.
    Enroller,
    /// Puts checklists, set and site files in force.
    Approver,
    /// Takes air samples.
    Tester,
}

impl Role {
    /// Every role.
    pub const ALL: [Role; 7] = [
        Role::Operator,
        Role::Supervisor,
        Role::Attendant,
        Role::Auditor,
        Role::Enroller,
        Role::Approver,
        Role::Tester,
    ];

    /// The word in rosters and acts.
    pub const fn word(self) -> &'static str {
        match self {
            Role::Operator => "operator",
            Role::Supervisor => "supervisor",
            Role::Attendant => "attendant",
            Role::Auditor => "auditor",
            Role::Enroller => "enroller",
            Role::Approver => "approver",
            Role::Tester => "tester",
        }
    }

    /// The role of a word.
    pub fn read(word: &str) -> Option<Role> {
        Role::ALL.into_iter().find(|r| r.word() == word)
    }
}
