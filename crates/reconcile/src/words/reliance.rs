//! Why a trailer is not simply relied on, in words.

use crate::reliance::WhyNot;

impl WhyNot {
    /// In a few words.
    pub fn words(self) -> &'static str {
        match self {
            Self::OpenStop => "an open stop",
            Self::OpenAsk => "somebody must look",
            Self::NobodySpeaks => "two signed jobs, neither of which had seen the other",
            Self::NotSigned => "no job is signed off",
            Self::TakenOff => "the camera was taken off",
            Self::NoPair => "no camera is linked",
            Self::SettledStop => "a ruling closed the question, not the gap",
        }
    }
}
