"""The hand that flies the model: how it holds a phone, and the attitude that it flies."""
