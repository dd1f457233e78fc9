//! Device keys: ed25519, made from a 32-byte seed, zeroed when dropped.

use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use gladhand_facts::DeviceKey;

/// A device's secret key. Never shown, zeroed when dropped.
pub struct DeviceSecret(SigningKey);

impl DeviceSecret {
    /// The key that belongs to `seed`.
    pub fn from_seed(seed: &[u8; 32]) -> Self {
        Self(SigningKey::from_bytes(seed))
    }

    /// The public half.
    pub fn public(&self) -> DeviceKey {
        DeviceKey(self.0.verifying_key().to_bytes())
    }

    /// Signs `context` and `message` together, so a signature for one purpose is not valid for another.
    pub fn sign(&self, context: &str, message: &[u8]) -> [u8; 64] {
        self.0.sign(&framed(context, message)).to_bytes()
    }
}

impl std::fmt::Debug for DeviceSecret {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "DeviceSecret({}…)", self.public().short())
    }
}

/// Whether `signature` is `key`'s signature over `context` and `message`. Weak keys never verify.
pub fn verify(key: &DeviceKey, context: &str, message: &[u8], signature: &[u8; 64]) -> bool {
    VerifyingKey::from_bytes(&key.0)
        .and_then(|k| k.verify_strict(&framed(context, message), &Signature::from_bytes(signature)))
        .is_ok()
}

fn framed(context: &str, message: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(context.len() + message.len() + 1);
    out.extend_from_slice(context.as_bytes());
    out.push(0);
    out.extend_from_slice(message);
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use ed25519_dalek::Verifier;

    fn hex(text: &str) -> Vec<u8> {
        data_encoding::HEXLOWER.decode(text.as_bytes()).unwrap()
    }

    /// RFC 8032 §7.1, tests 1 to 3: seed, public key, message, signature.
    #[test]
    fn published_vectors_of_rfc_8032() {
        let vectors = [
            (
                "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
                "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
                "",
                "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
            ),
            (
                "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
                "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
                "72",
                "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
            ),
            (
                "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
                "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
                "af82",
                "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
            ),
        ];
        for (seed, public, message, signature) in vectors {
            let secret = DeviceSecret::from_seed(&hex(seed).try_into().unwrap());
            assert_eq!(secret.public().to_string(), public);
            let signed = secret.0.sign(&hex(message));
            assert_eq!(data_encoding::HEXLOWER.encode(&signed.to_bytes()), signature);
            assert!(secret.0.verifying_key().verify(&hex(message), &signed).is_ok());
        }
    }

    #[test]
    fn a_signature_is_bound_to_key_purpose_and_message() {
        let (a, b) = (DeviceSecret::from_seed(&[1; 32]), DeviceSecret::from_seed(&[2; 32]));
        let signature = a.sign("head", b"x");
        assert!(verify(&a.public(), "head", b"x", &signature));
        assert!(!verify(&b.public(), "head", b"x", &signature));
        assert!(!verify(&a.public(), "invite", b"x", &signature));
        assert!(!verify(&a.public(), "head", b"y", &signature));
        assert!(
            !verify(&DeviceKey([0; 32]), "head", b"x", &signature),
            "a weak key never verifies"
        );
    }
}
