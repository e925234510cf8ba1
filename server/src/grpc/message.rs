//! The status message in a header, escaped no more than the protocol asks. It does not know what a
//! message says.

use http::{HeaderMap, HeaderValue};

/// Signs that the library escapes without need and that clients in JavaScript do not read back: a
/// color such as `#4a6b3c` would reach them as `%234a6b3c`.
const NEEDLESS: [(&[u8; 3], u8); 2] = [(b"%23", b'#'), (b"%3F", b'?')];

/// Takes needless escapes out of `grpc-message`. The protocol asks for an escape of `%` and of all
/// that is not printable ASCII only (gRPC over HTTP/2, Percent-Encoded).
pub(super) fn plain(headers: &mut HeaderMap) {
    let Some(found) = headers.get("grpc-message") else { return };
    if let Ok(value) = HeaderValue::from_bytes(&unescaped(found.as_bytes())) {
        headers.insert("grpc-message", value);
    }
}

fn unescaped(mut text: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(text.len());
    while let [first, rest @ ..] = text {
        let known = NEEDLESS.iter().find(|(escape, _)| text.starts_with(*escape));
        out.push(known.map_or(*first, |(_, sign)| *sign));
        text = if known.is_some() { rest.get(2..).unwrap_or_default() } else { rest };
    }
    out
}

#[cfg(test)]
mod tests {
    use tonic::{Code, Status};

    use super::*;

    #[test]
    fn colors_stand_unescaped_and_every_text_reads_back() {
        for text in ["`#4a6b3c` or what?", "100 % of %23", "grün\n\u{202e}", "", "#"] {
            let mut headers = HeaderMap::new();
            Status::new(Code::NotFound, text).add_header(&mut headers).unwrap();
            plain(&mut headers);
            let status = Status::from_header_map(&headers).unwrap();
            assert_eq!(status.message(), text);
            if let Some(value) = headers.get("grpc-message") {
                let shown = value.to_str().unwrap();
                assert_eq!(shown.matches('#').count(), text.matches('#').count(), "{shown}");
            }
        }
    }
}
